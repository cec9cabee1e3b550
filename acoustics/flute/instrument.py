"""The geometry of one flute: its parts and its JSON. Lengths in mm, angles in degrees."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from acoustics.errors import InvalidInput

FORMAT = "two-chamber-flute/1"


@dataclass(frozen=True, slots=True)
class Body:
    """The outside: ``round`` (a cylinder of the local bore plus twice ``wall``) or ``flat`` (square) [mm]."""

    outside: Literal["round", "flat"]
    wall: float


@dataclass(frozen=True, slots=True)
class Window:
    """The opening that the jet crosses [mm].

    ``wall`` None means that of the body, ``edge_angle`` 90 means no ramp. ``edge_height`` is how far the tip of the
    splitting edge lies above the bore on the centre line. Where the wall is thinner than that of a round body a flat is
    planed around the window, parallel to the axis; ``planed`` False reads it as a thinner cylinder instead, as
    patterns did that were designed before flats were known.
    """

    length: float
    width: float
    wall: float | None = None
    edge_angle: float = 30.0
    edge_height: float = 0.0
    planed: bool = True


@dataclass(frozen=True, slots=True)
class Block:
    """What stands on the flat above the window, its end ``setback`` before the window's flue edge [mm]."""

    height: float
    width: float
    length: float
    setback: float = 0.0


@dataclass(frozen=True, slots=True)
class Finger:
    """How far the pad of a closing finger bulges into each closed hole [mm]."""

    depth: float


@dataclass(frozen=True, slots=True)
class Hole:
    """A finger hole or foot hole [mm].

    ``undercut`` adds to its radius where it meets the bore, ``rim`` is the radius to which its outer rim is rounded.
    """

    x: float
    diameter: float
    wall: float | None = None
    undercut: float = 0.0
    rim: float = 0.0


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
    block: Block | None = None
    finger: Finger | None = None

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

    @property
    def seat_width(self) -> float | None:
        """The width of the flat around the window [mm]: that of a square body, None where a round one has no flat."""
        bore = self.bore_diameter(0.0)
        if self.body.outside == "flat":
            return bore + 2.0 * self.body.wall
        outside, flat = 0.5 * bore + self.body.wall, 0.5 * bore + self.window_wall
        return 2.0 * math.sqrt(outside**2 - flat**2) if self.window.planed and flat < outside else None

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
    def from_json(document: object, kept: bool = False) -> Instrument:
        """Return the flute of a JSON document, validated. Raises InvalidInput.

        ``kept``: the document was stored by a shop, perhaps before flats were known: where it does not say how its wall
        at the window is planed, it is a thinner cylinder, and a flue wider than the window is let pass.
        """
        from acoustics.flute.document import read

        return read(document, kept)

    def to_json(self) -> dict[str, Any]:
        """Return the JSON document that ``from_json`` reads back to an equal flute."""
        from acoustics.flute.document import written

        return written(self)


__all__ = [
    "FORMAT", "Block", "Body", "Chamber", "Finger", "Flue", "Hole", "Instrument", "InvalidInput", "Window",
]  # fmt: skip
