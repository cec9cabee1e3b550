"""Which flutes are possible: sizes within reason, and no parts that overlap."""

from __future__ import annotations

import math
from collections.abc import Iterator

from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Hole, Instrument

BORE = (5.0, 60.0)
WALL = (0.5, 25.0)
LENGTH = (60.0, 2000.0)
STUB = 100.0
WINDOW_LENGTH = (1.0, 30.0)
WINDOW_WIDTH = (1.5, 60.0)
HOLE = (1.0, 40.0)
FLUE_DEPTH = (0.1, 10.0)
FLUE_LENGTH = (0.5, 200.0)
CHAMBER = (5.0, 1000.0)
BLOCK_HEIGHT = (0.5, 100.0)
BLOCK_WIDTH = (1.5, 100.0)
BLOCK_LENGTH = (1.0, 300.0)
SETBACK = (0.0, 50.0)


def check(flute: Instrument) -> None:
    """Raise InvalidInput for the first error, with the field, the value and the limit."""
    _check_sizes(flute)
    _check_head(flute)
    for hole, at in _named_holes(flute):
        _check_hole(flute, hole, at)
    _check_order(flute)
    if flute.foot_x < LENGTH[0] or flute.foot_x > LENGTH[1]:
        last = f"bore[{len(flute.bore) - 1}][0]"
        raise InvalidInput(last, flute.foot_x, f"the foot must lie at {LENGTH[0]:g} to {LENGTH[1]:g} mm")


def _within(value: float, field: str, limits: tuple[float, float]) -> None:
    if not (math.isfinite(value) and limits[0] <= value <= limits[1]):
        raise InvalidInput(field, value, f"must be {limits[0]:g} to {limits[1]:g} mm")


def _check_sizes(flute: Instrument) -> None:
    if len(flute.bore) < 2:
        raise InvalidInput("bore", len(flute.bore), "must have at least two points")
    for i, (x, diameter) in enumerate(flute.bore):
        _within(diameter, f"bore[{i}][1]", BORE)
        if not math.isfinite(x):
            raise InvalidInput(f"bore[{i}][0]", x, "must be a finite number")
        if i and x <= flute.bore[i - 1][0]:
            raise InvalidInput(f"bore[{i}][0]", x, f"must lie beyond bore[{i - 1}] at {flute.bore[i - 1][0]:g} mm")
    _within(flute.body.wall, "body.wall", WALL)
    window = flute.window
    _within(window.length, "window.length", WINDOW_LENGTH)
    _within(window.width, "window.width", WINDOW_WIDTH)
    _within(flute.window_wall, "window.wall", WALL)
    if not 10.0 <= window.edge_angle <= 90.0:
        raise InvalidInput("window.edge_angle", window.edge_angle, "must be 10 to 90 degrees")
    if flute.plug_x > -window.length:
        over = flute.plug_x + window.length
        raise InvalidInput(
            "bore[0][0]", flute.plug_x, f"the plug reaches {over:.2f} mm into the window; at most {-window.length:g} mm"
        )
    if flute.plug_x < -window.length - STUB:
        raise InvalidInput("bore[0][0]", flute.plug_x, f"the stub before the window must be at most {STUB:g} mm")
    narrowest = min(flute.bore_diameter(0.0), flute.bore_diameter(-window.length))
    if window.width > narrowest:
        raise InvalidInput(
            "window.width",
            window.width,
            f"the window is {window.width - narrowest:.2f} mm wider than the bore ({narrowest:g} mm)",
        )
    if flute.flue is not None:
        _within(flute.flue.depth, "flue.depth", FLUE_DEPTH)
        _within(flute.flue.width, "flue.width", WINDOW_WIDTH)
        _within(flute.flue.length, "flue.length", FLUE_LENGTH)
    if flute.chamber is not None:
        _within(flute.chamber.length, "chamber.length", CHAMBER)
        _within(flute.chamber.diameter, "chamber.diameter", CHAMBER)


def _check_head(flute: Instrument) -> None:
    """The edge below the flat, the block on the body; that it may stand out over its flat is common (a warning)."""
    edge, wall = flute.window.edge_height, flute.window_wall
    if not (math.isfinite(edge) and 0.0 <= edge < wall):
        raise InvalidInput("window.edge_height", edge, f"must be 0 to just under the wall at the window ({wall:g} mm)")
    if flute.block is None:
        return
    block = flute.block
    _within(block.height, "block.height", BLOCK_HEIGHT)
    _within(block.width, "block.width", BLOCK_WIDTH)
    _within(block.length, "block.length", BLOCK_LENGTH)
    _within(block.setback, "block.setback", SETBACK)
    body = flute.bore_diameter(-flute.window.length) + 2.0 * flute.body.wall
    if block.width > body:
        over = block.width - body
        raise InvalidInput(
            "block.width", block.width, f"the block is {over:.2f} mm wider than the body it sits on ({body:g} mm)"
        )


def check_flue(flute: Instrument) -> None:
    """Raise InvalidInput for a flue that is wider than its window: part of the jet would meet wood."""
    if flute.flue is not None and flute.flue.width > flute.window.width:
        over = flute.flue.width - flute.window.width
        raise InvalidInput(
            "flue.width",
            flute.flue.width,
            f"the flue is {over:.2f} mm wider than its window ({flute.window.width:g} mm)",
        )


def _named_holes(flute: Instrument) -> Iterator[tuple[Hole, str]]:
    for i, hole in enumerate(flute.holes):
        yield hole, f"holes[{i}]"
    for i, hole in enumerate(flute.foot_holes):
        yield hole, f"foot_holes[{i}]"


def _check_hole(flute: Instrument, hole: Hole, at: str) -> None:
    _within(hole.diameter, f"{at}.diameter", HOLE)
    if not math.isfinite(hole.x):
        raise InvalidInput(f"{at}.x", hole.x, "must be a finite number")
    if not (math.isfinite(hole.undercut) and 0.0 <= hole.undercut <= 10.0):
        raise InvalidInput(f"{at}.undercut", hole.undercut, "must be 0 to 10 mm")
    wall = flute.hole_wall(hole)
    _within(wall, f"{at}.wall", WALL)
    if not (math.isfinite(hole.rim) and 0.0 <= hole.rim < wall):
        raise InvalidInput(f"{at}.rim", hole.rim, f"must be 0 to just under the wall there ({wall:g} mm)")
    if flute.finger is not None and at.startswith("holes") and not 0.0 <= flute.finger.depth < wall:
        limit = f"must be 0 to just under the wall at {at} ({wall:g} mm)"
        raise InvalidInput("finger.depth", flute.finger.depth, limit)
    bore = flute.bore_diameter(hole.x)
    inside = hole.diameter + 2.0 * hole.undercut
    if inside > bore:
        field = f"{at}.undercut" if hole.undercut else f"{at}.diameter"
        raise InvalidInput(
            field,
            hole.undercut or hole.diameter,
            f"the hole is {inside - bore:.2f} mm wider than the bore there ({bore:.2f} mm)",
        )


def _check_order(flute: Instrument) -> None:
    """The window, the holes in order, and the foot must not touch."""
    before, end = "window", 0.0
    for hole, at in _named_holes(flute):
        reach = 0.5 * hole.diameter + hole.undercut
        if hole.x - reach < end:
            raise InvalidInput(f"{at}.x", hole.x, f"{at} overlaps {before} by {end - hole.x + reach:.2f} mm")
        before, end = at, hole.x + reach
    if end > flute.foot_x:
        last = f"bore[{len(flute.bore) - 1}][0]"
        raise InvalidInput(last, flute.foot_x, f"the foot cuts {end - flute.foot_x:.2f} mm into {before}")
