"""The geometry of one flute: its parts and its JSON. Lengths in mm, angles in degrees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from acoustics.errors import InvalidInput
from acoustics.fields import choice, mapping, number, sequence

FORMAT = "two-chamber-flute/1"
MAX_HOLES = 12
MAX_BORE_POINTS = 24


@dataclass(frozen=True, slots=True)
class Body:
    """The outside: ``round`` (a cylinder of the local bore plus twice ``wall``) or ``flat`` (square) [mm]."""

    outside: Literal["round", "flat"]
    wall: float


@dataclass(frozen=True, slots=True)
class Window:
    """The opening that the jet crosses [mm]; ``wall`` None means that of the body, ``edge_angle`` 90 means no ramp."""

    length: float
    width: float
    wall: float | None = None
    edge_angle: float = 30.0


@dataclass(frozen=True, slots=True)
class Hole:
    """A finger hole or foot hole [mm]; ``undercut`` adds to its radius where it meets the bore."""

    x: float
    diameter: float
    wall: float | None = None
    undercut: float = 0.0


@dataclass(frozen=True, slots=True)
class Flue:
    """The channel that shapes the jet [mm]."""

    depth: float
    width: float
    length: float


@dataclass(frozen=True, slots=True)
class Chamber:
    """The slow air chamber [mm]."""

    length: float
    diameter: float


@dataclass(frozen=True, slots=True)
class Instrument:
    """One flute. ``x`` runs along the bore from 0 at the splitting edge, positive toward the foot [mm].

    ``bore`` holds ``(x, diameter)`` points, linear in between, from the plug's face to the foot.
    """

    bore: tuple[tuple[float, float], ...]
    body: Body
    window: Window
    holes: tuple[Hole, ...] = ()
    foot_holes: tuple[Hole, ...] = ()
    flue: Flue | None = None
    chamber: Chamber | None = None

    @property
    def plug_x(self) -> float:
        """Where the plug's face is [mm], at or before the window."""
        return self.bore[0][0]

    @property
    def foot_x(self) -> float:
        """Where the foot is [mm]."""
        return self.bore[-1][0]

    @property
    def window_wall(self) -> float:
        """The wall at the window [mm]."""
        return self.body.wall if self.window.wall is None else self.window.wall

    def hole_wall(self, hole: Hole) -> float:
        """Return the wall at a hole [mm]."""
        return self.body.wall if hole.wall is None else hole.wall

    def bore_diameter(self, x: float) -> float:
        """Return the bore's diameter at ``x``, the end values beyond its ends [mm]."""
        before = self.bore[0]
        if x <= before[0]:
            return before[1]
        for point in self.bore[1:]:
            if x <= point[0]:
                part = (x - before[0]) / (point[0] - before[0])
                return before[1] + part * (point[1] - before[1])
            before = point
        return before[1]

    def with_holes(self, holes: Sequence[Hole]) -> Instrument:
        """Return the same flute with other finger holes."""
        return replace(self, holes=tuple(holes))

    def validate(self) -> Instrument:
        """Return the flute itself, or raise InvalidInput naming the size or the two things that collide."""
        from acoustics.flute.checks import check

        check(self)
        return self

    @staticmethod
    def from_json(document: object) -> Instrument:
        """Return the flute of a JSON document, validated. Raises InvalidInput."""
        names = ("format", "bore", "body", "window", "holes", "foot_holes", "flue", "chamber")
        values = mapping(document, "instrument", names, required=("bore", "body", "window"))
        choice(values.get("format", FORMAT), "instrument.format", (FORMAT,))
        body = mapping(values["body"], "body", ("outside", "wall"), required=("outside", "wall"))
        outside = choice(body["outside"], "body.outside", ("round", "flat"))
        window = mapping(
            values["window"], "window", ("length", "width", "wall", "edge_angle"), required=("length", "width")
        )
        return Instrument(
            bore=_bore(values["bore"]),
            body=Body("round" if outside == "round" else "flat", _size(body["wall"], "body.wall")),
            window=Window(
                length=_size(window["length"], "window.length"),
                width=_size(window["width"], "window.width"),
                wall=None if window.get("wall") is None else _size(window["wall"], "window.wall"),
                edge_angle=number(window.get("edge_angle", 30.0), "window.edge_angle", 10.0, 90.0, "degrees"),
            ),
            holes=_holes(values.get("holes", ()), "holes"),
            foot_holes=_holes(values.get("foot_holes", ()), "foot_holes"),
            flue=_flue(values.get("flue")),
            chamber=_chamber(values.get("chamber")),
        ).validate()

    def to_json(self) -> dict[str, Any]:
        """Return the JSON document that ``from_json`` reads back to an equal flute."""
        document: dict[str, Any] = {
            "format": FORMAT,
            "bore": [[x, diameter] for x, diameter in self.bore],
            "body": {"outside": self.body.outside, "wall": self.body.wall},
            "window": _present(
                length=self.window.length,
                width=self.window.width,
                wall=self.window.wall,
                edge_angle=self.window.edge_angle,
            ),
            "holes": [_hole_json(hole) for hole in self.holes],
            "foot_holes": [_hole_json(hole) for hole in self.foot_holes],
        }
        if self.flue is not None:
            document["flue"] = {"depth": self.flue.depth, "width": self.flue.width, "length": self.flue.length}
        if self.chamber is not None:
            document["chamber"] = {"length": self.chamber.length, "diameter": self.chamber.diameter}
        return document


def _size(value: object, field: str) -> float:
    return number(value, field, 1e-3, 3000.0, "mm")


def _bore(value: object) -> tuple[tuple[float, float], ...]:
    points = []
    for i, point in enumerate(sequence(value, "bore", MAX_BORE_POINTS, at_least=2)):
        x, diameter = sequence(point, f"bore[{i}]", 2, at_least=2)
        points.append((number(x, f"bore[{i}][0]", -300.0, 3000.0, "mm"), _size(diameter, f"bore[{i}][1]")))
    return tuple(points)


def _holes(value: object, field: str) -> tuple[Hole, ...]:
    holes = []
    for i, item in enumerate(sequence(value, field, MAX_HOLES)):
        at = f"{field}[{i}]"
        hole = mapping(item, at, ("x", "diameter", "wall", "undercut"), required=("x", "diameter"))
        holes.append(
            Hole(
                x=number(hole["x"], f"{at}.x", -300.0, 3000.0, "mm"),
                diameter=_size(hole["diameter"], f"{at}.diameter"),
                wall=None if hole.get("wall") is None else number(hole["wall"], f"{at}.wall", 0.0, 3000.0, "mm"),
                undercut=number(hole.get("undercut", 0.0), f"{at}.undercut", 0.0, 10.0, "mm"),
            )
        )
    return tuple(holes)


def _flue(value: object) -> Flue | None:
    if value is None:
        return None
    names = ("depth", "width", "length")
    flue = mapping(value, "flue", names, required=names)
    return Flue(*(_size(flue[name], f"flue.{name}") for name in names))


def _chamber(value: object) -> Chamber | None:
    if value is None:
        return None
    names = ("length", "diameter")
    chamber = mapping(value, "chamber", names, required=names)
    return Chamber(*(_size(chamber[name], f"chamber.{name}") for name in names))


def _present(**values: float | None) -> dict[str, float]:
    return {name: value for name, value in values.items() if value is not None}


def _hole_json(hole: Hole) -> dict[str, float]:
    return _present(x=hole.x, diameter=hole.diameter, wall=hole.wall, undercut=hole.undercut or None)


__all__ = ["FORMAT", "Body", "Chamber", "Flue", "Hole", "Instrument", "InvalidInput", "Window"]
