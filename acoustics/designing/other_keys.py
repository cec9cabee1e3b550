"""Which keys a blank can still become: the foot only gets shorter, holes only get larger."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from acoustics import fields
from acoustics.designing import findings, wishes
from acoustics.designing.already_cut import (
    already_cut,
    beside_what_is_cut,
    broken_for_good,
    crowded,
    foot_there_is,
    no_room,
    squeezed,
)
from acoustics.designing.design import Design, assemble
from acoustics.designing.fitting import Goal, fit
from acoustics.designing.layout import Array, PitchModel, layout_of
from acoustics.designing.leastsquares import InfeasibleError
from acoustics.designing.limits import Bound, Limits, bounds
from acoustics.designing.request import DesignRequest
from acoustics.designing.snapping import finish
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Hole, Instrument
from acoustics.model.air import Air
from acoustics.model.implicit import CENTS
from acoustics.model.resonance import Mode, predict
from acoustics.notes.charts import SCALES
from acoustics.notes.music import A4_MIDI, HIGHEST_KEY, LOWEST_KEY, Temperament, note_name
from acoustics.saying import Saying

SPAN: Final = 7
"""Semitones above the present fundamental that are tried on a blank without finger holes."""
DRILLED_SPAN: Final = 2
"""The same where the holes are drilled: they soon are in the wrong places."""
NEAR: Final = 0.5
"""Semitones above a key at which a blank may already stand: holes still to come, or to be opened, flatten it."""
CHANGED: Final = 0.05
"""mm: smaller changes are not mentioned."""


@dataclass(frozen=True, slots=True)
class Becoming:
    """A key and scale that a blank could still have.

    `possible`: every note with a hole of its own comes within the tolerance inside the limits. `needs` says what to
    cut, or, where it is not possible, `lacks` what is in the way. `design` is the flute it would be, or the nearest.
    """

    key: str
    scale: str
    possible: bool
    needs: tuple[Saying, ...]
    lacks: tuple[Saying, ...]
    design: Design

    def to_json(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "key": self.key,
            "scale": self.scale,
            "possible": self.possible,
            "needs": [str(need) for need in self.needs],
            "lacks": [str(lack) for lack in self.lacks],
            "design": self.design.to_json(),
        }


def other_keys(
    instrument: Instrument,
    air: Air,
    readings: Mapping[str, float] | None = None,
    *,
    holes: int = 6,
    scales: Sequence[str] = ("minor pentatonic",),
    a4: float = 440.0,
    tolerance: float = 5.0,
    temperament: Temperament = "equal",
    drills: Sequence[float] = (),
    limits: Limits | None = None,
    marked: Collection[int] = (),
) -> tuple[Becoming, ...]:
    """The keys that a blank can still become, from the lowest up.

    `instrument` is the blank as it is: bore, window, foot, and either no finger holes yet or all `holes` of them, of
    which those `marked` (numbered from 1) are only meant and not drilled yet. `readings` are measured fundamentals in
    Hz by fingering of the holes that are drilled ("" where there are none); the median of how far they stand from the
    model shifts every prediction. Holes that exist keep their places and may grow; the foot may be cut. `drills` are
    those that there are (none: the common sets); `limits` take the place of those that are usual for a key.

    A limit that what is cut already goes beyond is in the way of every key: the answer names it.

    Raises InvalidInput for a blank with another number of holes, a reading that does not fit, or a bad request.
    """
    if len(instrument.holes) not in (0, holes):
        raise InvalidInput("instrument.holes", len(instrument.holes), f"must be none or {holes}")
    for number in marked:
        fields.number(number, "marked", 1, max(1, len(instrument.holes)))
    there = tuple(h for number, h in enumerate(instrument.holes, 1) if number not in marked)
    drilled = len(there)
    blank = instrument if drilled else instrument.with_holes([])
    sounding = instrument.with_holes(there)
    for scale in scales:
        fields.choice(scale, "scales", SCALES)
    off = offset(sounding, air, readings or {})
    closed = predict(sounding, air, ["x" * drilled], modes=1)[0].modes[0]
    if not isinstance(closed, Mode):
        raise InvalidInput("instrument", None, closed.reason)
    now = A4_MIDI + 12.0 * math.log2(closed.frequency / a4) + off / 100.0
    lowest = math.ceil(now - NEAR)
    found = []
    highest = math.floor(now) + (DRILLED_SPAN if drilled else SPAN)
    undrilled = frozenset(marked) if drilled else frozenset()
    for midi in range(max(lowest, LOWEST_KEY), min(highest, HIGHEST_KEY) + 1):
        for scale in scales:
            document = {"key": note_name(midi), "scale": scale, "holes": holes, "a4": a4, "temperament": temperament}
            document |= _as_it_is(blank) | ({"drills": list(drills)} if drills else {})
            document |= {"limits": limits.to_json()} if limits else {}
            wanted = replace(DesignRequest.from_json(document), air=air)
            found.append(_become(blank, wanted, off, tolerance, undrilled))
    return tuple(found)


def offset(instrument: Instrument, air: Air, readings: Mapping[str, float]) -> float:
    """How many cents a flute stands above its model: the median over its readings (Hz by fingering), 0 without any."""
    if not readings:
        return 0.0
    off = []
    for prediction in predict(instrument, air, list(readings), modes=1):
        measured = fields.number(readings[prediction.fingering], f"readings.{prediction.fingering}", 50.0, 5000.0, "Hz")
        mode = prediction.modes[0]
        if isinstance(mode, Mode):
            off.append(CENTS * math.log(measured / mode.frequency))
    return float(np.median(off)) if off else 0.0


def _as_it_is(instrument: Instrument) -> dict[str, Any]:
    """The part of a design request that the blank has already settled."""
    window = instrument.window
    return {
        "bore_diameter": instrument.bore_diameter(0.0),
        "wall": instrument.body.wall,
        "outside": instrument.body.outside,
        "window": {
            "length": window.length,
            "width": window.width,
            "wall": instrument.window_wall,
            "edge_angle": window.edge_angle,
            "edge_height": window.edge_height,
        },
        "stub": -instrument.plug_x - window.length,
    }


def _become(
    blank: Instrument, request: DesignRequest, off: float, tolerance: float, undrilled: Collection[int]
) -> Becoming:
    targets = request.targets()
    n = request.holes
    template = blank if blank.holes else blank.with_holes([Hole(1.0, 1.0)] * n)
    model = PitchModel(template, [t.fingering for t in targets], request.air)
    goal = wishes.goal(request, targets)
    goal = replace(goal, frequencies=goal.frequencies / 2.0 ** (off / 1200.0))
    limits = [*bounds(request.limits, n), foot_there_is(blank, n), *already_cut(blank, undrilled)]
    start = wishes.start(request, targets)
    start[0] = min(start[0], blank.foot_x)
    if blank.holes:
        cut = beside_what_is_cut(start, blank, undrilled)
        fixed = [number for number in range(1, n + 1) if number not in undrilled]
        free = [i for i in range(2 * n + 1) if i not in fixed]
        # Places of holes are what they are: only limits on what can still change are limits now.
        limits = [b for b in limits if np.any(b.row[free])]
        limits, obstacles = broken_for_good(limits, layout_of(blank), undrilled)
        layout = _fitted(model, goal, limits, cut, free)
        if layout is None:
            layout, obstacles = squeezed(cut, undrilled), [*obstacles, *no_room(undrilled)]
        places = [i for i in free if i <= n]
        layout[places] = np.round(layout[places], 2)
    else:
        obstacles = []
        try:
            layout = finish(model, goal, limits, fit(model, goal, limits, start), request.racks)
        except InfeasibleError:
            layout, obstacles = crowded(start, blank, n), [Saying(f"the blank is too short for {n} finger holes")]
    layout[0] = min(layout[0], blank.foot_x)
    result = assemble(request, targets, model, goal, limits, layout, off)
    lacks = [*obstacles, *findings.gave(limits, layout, result.notes, tolerance)]
    needs = () if lacks else _cuts(blank, result.instrument, undrilled)
    return Becoming(request.key, request.scale, not lacks, needs, tuple(lacks), result)


def _fitted(model: PitchModel, goal: Goal, limits: Sequence[Bound], start: Array, free: Sequence[int]) -> Array | None:
    """The best layout within the firm limits; None where there is none."""
    try:
        layout = fit(model, goal, limits, start, free=free).layout
    except InfeasibleError:
        return None
    kept = all(float(b.row @ layout) >= b.least - findings.BINDING for b in limits if not b.gives)
    return layout if kept else None


def _cuts(blank: Instrument, flute: Instrument, undrilled: Collection[int]) -> tuple[Saying, ...]:
    """What to cut to get from a blank to a flute, in words."""
    cuts = []
    if blank.foot_x - flute.foot_x > CHANGED:
        cuts.append(
            Saying("cut {0} off the foot, to {1} from the splitting edge", (blank.foot_x - flute.foot_x, flute.foot_x))
        )
    for i, hole in enumerate(flute.holes, 1):
        if not blank.holes or i in undrilled:
            cuts.append(Saying(f"drill hole {i} at {{0}}, {{1}} wide when finished", (hole.x, hole.diameter)))
        elif hole.diameter - blank.holes[i - 1].diameter > CHANGED:
            cuts.append(Saying(f"open hole {i} from {{0}} to {{1}}", (blank.holes[i - 1].diameter, hole.diameter)))
    return tuple(cuts)
