"""The fundamental at voicing: how far the lowest note still rises or falls until the flute is finished.

A fresh blank is square and thick, its finger holes not drilled, its foot long. Turning and sanding thin the wall
around foot and window, which shortens their end corrections: the pitch rises. Each finger hole, although a finger
closes it, adds the volume of its chimney: the pitch falls. The foot cut to length raises it again. A maker who hears
the fundamental at voicing must know what is still to come, or cuts the foot too far.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, replace
from typing import Any, Final, Literal

import numpy as np

from acoustics import fields
from acoustics.belief.sounding import SHAPE, first_resonances
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Body, Instrument
from acoustics.model.air import Air
from acoustics.model.implicit import CENTS
from acoustics.tuning.aims import controls_of, with_controls

WALL_SD: Final = 0.3
"""mm by which the wall after turning and sanding differs from what was meant (estimate, no published source)."""
FINISH_SD: Final = 1.0
"""Cents by which sanding and coats inside the window and the holes shift the note (estimate, no published source)."""

Cause = Literal["finger holes", "foot", "wall", "rounding", "finish"]
SHARE_SD: Final[dict[Cause, float]] = {"finger holes": 0.1, "foot": 0.02, "wall": 0.1, "rounding": 0.3}
"""Share of each part by which the model may miss it: lengths are known well, how square the wood beside the window is
left when the rest is turned is not (estimates, no published source)."""


@dataclass(frozen=True, slots=True)
class Part:
    """What one piece of the work still does to the lowest note: cents up, give or take `sd`."""

    cause: Cause
    cents: float
    sd: float


@dataclass(frozen=True, slots=True)
class Rise:
    """How far the lowest note still goes up, in cents, give or take `sd`, and what of that is due to what."""

    cents: float
    sd: float
    parts: tuple[Part, ...]

    def part(self, cause: Cause) -> float:
        """Cents of one cause, 0 where it has none."""
        return sum(part.cents for part in self.parts if part.cause == cause)

    def to_json(self) -> dict[str, Any]:
        """As JSON."""
        return asdict(self)


def as_voiced(
    finished: Instrument, side: float | None = None, foot: float | None = None, holes: bool = False
) -> Instrument:
    """The blank that a finished flute is made from, as it stands at voicing.

    `side` is the width of the square outside in mm, None where the outside is finished already; `foot` where the foot
    is now, in mm from the splitting edge, None where it is as designed; `holes` whether the finger holes are drilled.
    The window keeps a wall of its own; without one it is as thick as the body. Raises InvalidInput.
    """
    flute = finished
    if foot is not None:
        last = max((hole.x for hole in (*flute.holes, *flute.foot_holes)), default=30.0)
        controls = controls_of(flute)
        controls[0] = fields.number(foot, "foot", last + 5.0, 3000.0, "mm")
        flute = with_controls(flute, controls)
    if not holes:
        flute = replace(flute, holes=())
    if side is not None:
        widest = max(diameter for _, diameter in flute.bore)
        wall = 0.5 * (fields.number(side, "side", 1.0, 300.0, "mm") - widest)
        if wall < 0.5:
            raise InvalidInput("side", side, f"must leave a wall of 0.5 mm around a bore of {widest:g} mm")
        own = [
            tuple(hole if hole.wall is None else replace(hole, wall=max(wall, hole.wall)) for hole in some)
            for some in (flute.holes, flute.foot_holes)
        ]
        flute = replace(flute, body=Body("flat", wall), holes=own[0], foot_holes=own[1])
    return flute


def expected_rise(now: Instrument, finished: Instrument, air: Air) -> Rise:
    """How far the lowest note, all holes closed, still goes up from a flute as it is to the finished one.

    One thing after the other: finger holes drilled to their last size, foot cut, wall thinned, a square outside made
    round; and what the finish may do, of which only the spread is known. The parts are each taken as uncertain by
    `SHARE_SD` of themselves, the wall also by `WALL_SD`. Raises InvalidInput where the bores differ but at the foot.
    """
    if len(now.bore) != len(finished.bore) or not np.allclose(now.bore[:-1], finished.bore[:-1], atol=1e-6):
        raise InvalidInput("now.bore", now.bore, "must be that of the finished flute up to its foot")
    drilled = replace(finished, bore=now.bore, body=now.body, window=now.window)
    drilled = replace(drilled, foot_holes=now.foot_holes)
    cut = replace(drilled, bore=finished.bore)
    thin = replace(finished, body=replace(finished.body, outside=now.body.outside))
    steps: list[tuple[Cause, Instrument]] = [
        ("finger holes", drilled),
        ("foot", cut),
        ("wall", thin),
        ("rounding", finished),
    ]
    before, parts = _lowest(now, air), []
    for cause, flute in steps:
        after = _lowest(flute, air)
        cents = float(CENTS) * math.log(after / before)
        before = after
        sd = SHARE_SD[cause] * abs(cents)
        if cause == "wall" and now.body.wall != finished.body.wall:
            more = replace(flute, body=replace(flute.body, wall=flute.body.wall - 0.5 * WALL_SD))
            sd = math.hypot(sd, 2.0 * float(CENTS) * math.log(_lowest(more, air) / after))
        if abs(cents) > 1e-6:
            parts.append(Part(cause, cents, sd))
    parts.append(Part("finish", 0.0, FINISH_SD))
    return Rise(sum(p.cents for p in parts), math.hypot(*(p.sd for p in parts)), tuple(parts))


def _lowest(flute: Instrument, air: Air) -> float:
    """The fundamental with all finger holes closed, Hz."""
    length = 1e-3 * (flute.foot_x + 4.0 * flute.bore_diameter(0.0))
    near = np.array([air.speed_of_sound / (2.0 * length)])
    w = first_resonances(flute, air, ["x" * len(flute.holes)], np.zeros(SHAPE), near)
    return float(w[0].real / (2.0 * math.pi))
