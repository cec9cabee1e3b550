"""The JSON document of one flute. Lengths in mm, angles in degrees."""

from __future__ import annotations

from typing import Any, Final

from acoustics.fields import boolean, choice, mapping, number, sequence
from acoustics.flute.checks import check_flue
from acoustics.flute.instrument import FORMAT, Block, Body, Chamber, Finger, Flue, Hole, Instrument, Window

MAX_HOLES: Final = 12
MAX_BORE_POINTS: Final = 24
_PARTS: Final = ("format", "bore", "body", "window", "holes", "foot_holes", "flue", "chamber", "block", "finger")
_WINDOW: Final = ("length", "width", "wall", "edge_angle", "edge_height", "planed")


def read(document: object, kept: bool = False) -> Instrument:
    """Return the flute of a document, validated; ``kept`` as for ``Instrument.from_json``. Raises InvalidInput."""
    values = mapping(document, "instrument", _PARTS, required=("bore", "body", "window"))
    choice(values.get("format", FORMAT), "instrument.format", (FORMAT,))
    body = mapping(values["body"], "body", ("outside", "wall"), required=("outside", "wall"))
    outside = choice(body["outside"], "body.outside", ("round", "flat"))
    flute = Instrument(
        bore=_bore(values["bore"]),
        body=Body("round" if outside == "round" else "flat", _size(body["wall"], "body.wall")),
        window=_window(values["window"], planed=not kept),
        holes=_holes(values.get("holes", ()), "holes"),
        foot_holes=_holes(values.get("foot_holes", ()), "foot_holes"),
        flue=_flue(values.get("flue")),
        chamber=_chamber(values.get("chamber")),
        block=read_block(values.get("block")),
        finger=read_finger(values.get("finger")),
    ).validate()
    if not kept:
        check_flue(flute)
    return flute


def written(flute: Instrument) -> dict[str, Any]:
    """Return the document that ``read`` reads back to an equal flute; what is not there is left out."""
    window = flute.window
    document: dict[str, Any] = {
        "format": FORMAT,
        "bore": [[x, diameter] for x, diameter in flute.bore],
        "body": {"outside": flute.body.outside, "wall": flute.body.wall},
        "window": _present(
            length=window.length,
            width=window.width,
            wall=window.wall,
            edge_angle=window.edge_angle,
            edge_height=window.edge_height or None,
        ),
        "holes": [_hole_json(hole) for hole in flute.holes],
        "foot_holes": [_hole_json(hole) for hole in flute.foot_holes],
    }
    if not window.planed:
        document["window"]["planed"] = False
    if flute.flue is not None:
        document["flue"] = {"depth": flute.flue.depth, "width": flute.flue.width, "length": flute.flue.length}
    if flute.chamber is not None:
        document["chamber"] = {"length": flute.chamber.length, "diameter": flute.chamber.diameter}
    if flute.block is not None:
        block = flute.block
        document["block"] = {
            "height": block.height, "width": block.width, "length": block.length, "setback": block.setback,
        }  # fmt: skip
    if flute.finger is not None:
        document["finger"] = {"depth": flute.finger.depth}
    return document


def _size(value: object, field: str) -> float:
    return number(value, field, 1e-3, 3000.0, "mm")


def _bore(value: object) -> tuple[tuple[float, float], ...]:
    points = []
    for i, point in enumerate(sequence(value, "bore", MAX_BORE_POINTS, at_least=2)):
        x, diameter = sequence(point, f"bore[{i}]", 2, at_least=2)
        points.append((number(x, f"bore[{i}][0]", -300.0, 3000.0, "mm"), _size(diameter, f"bore[{i}][1]")))
    return tuple(points)


def _window(value: object, planed: bool) -> Window:
    window = mapping(value, "window", _WINDOW, required=("length", "width"))
    return Window(
        length=_size(window["length"], "window.length"),
        width=_size(window["width"], "window.width"),
        wall=None if window.get("wall") is None else _size(window["wall"], "window.wall"),
        edge_angle=number(window.get("edge_angle", 30.0), "window.edge_angle", 10.0, 90.0, "degrees"),
        edge_height=number(window.get("edge_height", 0.0), "window.edge_height", 0.0, 3000.0, "mm"),
        planed=boolean(window.get("planed", planed), "window.planed"),
    )


def _holes(value: object, field: str) -> tuple[Hole, ...]:
    holes = []
    names = ("x", "diameter", "wall", "undercut", "rim")
    for i, item in enumerate(sequence(value, field, MAX_HOLES)):
        at = f"{field}[{i}]"
        hole = mapping(item, at, names, required=("x", "diameter"))
        holes.append(
            Hole(
                x=number(hole["x"], f"{at}.x", -300.0, 3000.0, "mm"),
                diameter=_size(hole["diameter"], f"{at}.diameter"),
                wall=None if hole.get("wall") is None else number(hole["wall"], f"{at}.wall", 0.0, 3000.0, "mm"),
                undercut=number(hole.get("undercut", 0.0), f"{at}.undercut", 0.0, 10.0, "mm"),
                rim=number(hole.get("rim", 0.0), f"{at}.rim", 0.0, 3000.0, "mm"),
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


def read_block(value: object) -> Block | None:
    """Return the block of a document, None for none. Raises InvalidInput."""
    if value is None:
        return None
    names = ("height", "width", "length")
    block = mapping(value, "block", (*names, "setback"), required=names)
    height, width, length = (_size(block[name], f"block.{name}") for name in names)
    return Block(height, width, length, number(block.get("setback", 0.0), "block.setback", 0.0, 3000.0, "mm"))


def read_finger(value: object) -> Finger | None:
    """Return the fingers of a document, None for flat ones. Raises InvalidInput."""
    if value is None:
        return None
    finger = mapping(value, "finger", ("depth",), required=("depth",))
    return Finger(number(finger["depth"], "finger.depth", 0.0, 3000.0, "mm"))


def _present(**values: float | None) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value is not None}


def _hole_json(hole: Hole) -> dict[str, Any]:
    return _present(
        x=hole.x, diameter=hole.diameter, wall=hole.wall, undercut=hole.undercut or None, rim=hole.rim or None
    )
