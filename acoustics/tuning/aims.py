"""What a flute is tuned to: its targets, which size each note has to itself, and how far each size may still go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from acoustics.belief.corrections import CUT_SD, Finishing
from acoustics.designing.layout import layout_of, with_layout
from acoustics.designing.limits import BRIDGE
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.implicit import Array
from acoustics.tuning.worth import Work

WIDEST: Final = 13.0
"""mm: wider finger holes are not covered reliably (common practice, no published source)."""
OF_BORE: Final = 0.9
"""Share of the bore that a finger hole may take."""
HOLE_STEP: Final = 0.02
"""mm to which a hole of any size is given: what callipers show."""
FOOT_STEP: Final = 0.1
"""mm to which a foot is given."""


@dataclass(frozen=True, slots=True)
class Aim:
    """The target of one fingering, Hz."""

    fingering: str
    frequency: float


@dataclass(frozen=True)
class Job:
    """A flute on the bench as it is, in the air for which its targets hold.

    `tolerance` in cents; `risk` the chance that a cut may take; `drills` in mm, None for any size; `smallest` the least
    cut in mm; `work` what work and its failures cost; `steps` (foot, holes) mm to which sizes are given.
    """

    flute: Instrument
    air: Air
    aims: tuple[Aim, ...]
    tolerance: float
    risk: float
    drills: tuple[float, ...] | None
    finishing: Finishing
    smallest: float = 2.0 * CUT_SD
    work: Work = field(default_factory=Work)
    steps: tuple[float, float] = (FOOT_STEP, HOLE_STEP)

    @property
    def fingerings(self) -> tuple[str, ...]:
        return tuple(aim.fingering for aim in self.aims)

    @property
    def frequencies(self) -> Array:
        return np.array([aim.frequency for aim in self.aims])

    @property
    def controls(self) -> Array:
        """Foot and diameters as they are, mm (1 + n,)."""
        return controls_of(self.flute)

    def finished(self, controls: Array) -> Instrument:
        """The flute with other foot and diameters, its outside turned and sanded as it will be."""
        return thinner(with_controls(self.flute, controls), self.finishing.wall)


def controls_of(flute: Instrument) -> Array:
    """Foot and diameters of a flute, mm (1 + n,)."""
    n = len(flute.holes)
    layout = layout_of(flute)
    return np.concatenate([layout[:1], layout[n + 1 :]])


def with_controls(flute: Instrument, controls: Array) -> Instrument:
    """The flute with another foot and other diameters, mm."""
    places = [hole.x for hole in flute.holes]
    return with_layout(flute, np.concatenate([controls[:1], places, controls[1:]]))


def thinner(flute: Instrument, wall: float) -> Instrument:
    """The flute with `wall` mm less outside: body and holes, and the window unless it has a wall of its own."""
    if wall == 0.0:
        return flute
    walls = [flute.body.wall, *(hole.wall for hole in flute.holes + flute.foot_holes if hole.wall is not None)]
    if min(walls) - wall < 0.5:
        raise InvalidInput("shop.finishing.wall", wall, f"leaves less than 0.5 mm of a wall of {min(walls):g} mm")
    less = [
        tuple(hole if hole.wall is None else replace(hole, wall=hole.wall - wall) for hole in holes)
        for holes in (flute.holes, flute.foot_holes)
    ]
    body = replace(flute.body, wall=flute.body.wall - wall)
    return replace(flute, body=body, holes=less[0], foot_holes=less[1])


def owners(fingerings: Sequence[str], holes: int) -> dict[int, int]:
    """Which note (index) each control has to itself: the foot (0) the closed one, a hole where it is the first open.

    Of several such notes the one with the fewest closed holes below is taken: the others are cross fingerings.
    """
    found: dict[int, int] = {}
    for i, fingering in enumerate(fingerings):
        control = fingering.find("o") + 1 if "o" in fingering else 0
        closed = fingering.count("x")
        if control <= holes and (control not in found or closed < fingerings[found[control]].count("x")):
            found[control] = i
    return found


def farthest(job: Job) -> Array:
    """How far each control may go, mm (1 + n,): the shortest foot, the widest holes. Never behind what is there."""
    flute = job.flute
    everything = sorted((*flute.holes, *flute.foot_holes), key=lambda hole: hole.x)
    last = max((hole.x + 0.5 * hole.diameter + hole.undercut for hole in everything), default=0.0)
    at_foot = 0.5 * flute.bore_diameter(flute.foot_x)
    limits = [min(flute.foot_x, max(last + max(BRIDGE, 0.5 * at_foot), 60.0))]
    for hole in flute.holes:
        near = [abs(other.x - hole.x) - BRIDGE for other in everything if other is not hole]
        room = min([*near, 2.0 * (hole.x - BRIDGE)], default=WIDEST) - 2.0 * hole.undercut
        widest = min(WIDEST, OF_BORE * flute.bore_diameter(hole.x) - 2.0 * hole.undercut, room)
        if job.drills is not None:
            widest = max((drill for drill in job.drills if drill <= widest), default=hole.diameter)
        limits.append(max(hole.diameter, widest))
    return np.array(limits)
