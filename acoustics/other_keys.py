"""Which keys a blank can still become: the foot only gets shorter, holes only get larger."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from acoustics import fields, findings, wishes
from acoustics.air import Air
from acoustics.charts import SCALES
from acoustics.design import Design, assemble
from acoustics.errors import InvalidInput
from acoustics.fitting import fit
from acoustics.implicit import CENTS
from acoustics.instrument import Hole, Instrument
from acoustics.layout import PitchModel, layout_of
from acoustics.limits import Bound, bounds
from acoustics.music import A4_MIDI, HIGHEST_KEY, LOWEST_KEY, note_name
from acoustics.request import DesignRequest
from acoustics.resonance import Mode, predict
from acoustics.snapping import finish

SPAN: Final = 7
"""Semitones above the present fundamental that are tried on a blank without finger holes."""
DRILLED_SPAN: Final = 2
"""The same where the holes are drilled: they soon stand in the wrong places."""
NEAR: Final = 0.5
"""Semitones below a key at which a blank may already stand: its holes, still to come, flatten it."""
CHANGED: Final = 0.05
"""mm of change that is worth telling."""


@dataclass(frozen=True, slots=True)
class Becoming:
    """A key and scale that a blank could still have.

    `possible`: every note with a hole of its own comes within the tolerance inside the limits. `needs` says what to
    cut, or, where it is not possible, `lacks` what is in the way. `design` is the flute it would be, or the nearest.
    """

    key: str
    scale: str
    possible: bool
    needs: tuple[str, ...]
    lacks: tuple[str, ...]
    design: Design

    def to_json(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "key": self.key,
            "scale": self.scale,
            "possible": self.possible,
            "needs": list(self.needs),
            "lacks": list(self.lacks),
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
    request: Mapping[str, Any] | None = None,
) -> tuple[Becoming, ...]:
    """What a blank can still become, from its lowest key up.

    `instrument` is the blank as it is: bore, window, foot, and either no finger holes yet or all `holes` of them.
    `readings` are measured fundamentals in Hz by fingering ("" for a blank without finger holes); the median of how
    far they stand from the model shifts every prediction. Holes that exist keep their places and may grow; the foot
    may be cut. `request` may add limits, drills, temperament and the like as in a design request.

    Raises InvalidInput for a blank with another number of holes, a reading that does not fit, or a bad request.
    """
    drilled = len(instrument.holes)
    if drilled not in (0, holes):
        raise InvalidInput("instrument.holes", drilled, f"must be none or {holes}")
    for scale in scales:
        fields.choice(scale, "scales", SCALES)
    off = offset(instrument, air, readings or {})
    closed = predict(instrument, air, ["x" * drilled], modes=1)[0].modes[0]
    if not isinstance(closed, Mode):
        raise InvalidInput("instrument", None, closed.reason)
    now = A4_MIDI + 12.0 * math.log2(closed.frequency / a4) + off / 100.0
    lowest = math.ceil(now - (NEAR if drilled == 0 else 0.01 * tolerance))
    found = []
    highest = math.floor(now) + (DRILLED_SPAN if drilled else SPAN)
    for midi in range(max(lowest, LOWEST_KEY), min(highest, HIGHEST_KEY) + 1):
        for scale in scales:
            document = dict(request or {}) | {"key": note_name(midi), "scale": scale, "holes": holes, "a4": a4}
            document |= _as_it_is(instrument)
            wanted = replace(DesignRequest.from_json(document), air=air)
            found.append(_become(instrument, wanted, off, tolerance))
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
        },
        "stub": -instrument.plug_x - window.length,
    }


def _become(blank: Instrument, request: DesignRequest, off: float, tolerance: float) -> Becoming:
    targets = request.targets()
    n = request.holes
    drilled = bool(blank.holes)
    template = blank if drilled else blank.with_holes([Hole(1.0, 1.0)] * n)
    model = PitchModel(template, [t.fingering for t in targets], request.air)
    goal = wishes.goal(request, targets)
    goal = replace(goal, frequencies=goal.frequencies / 2.0 ** (off / 1200.0))
    limits = [*bounds(request.limits, n), *_already_cut(blank, n)]
    if drilled:
        free = [0, *range(n + 1, 2 * n + 1)]
        # Places are what they are: only limits on what can still change are limits now.
        limits = [b for b in limits if np.any(b.row[free])]
        layout = fit(model, goal, limits, layout_of(blank), free=free).layout
        layout[0] = round(float(layout[0]), 2)
    else:
        start = wishes.start(request, targets)
        start[0] = min(start[0], blank.foot_x)
        found = fit(model, goal, limits, start)
        layout = finish(model, goal, limits, found, request.racks)
    layout[0] = min(layout[0], blank.foot_x)
    result = assemble(request, targets, model, goal, limits, layout, off)
    lacks = findings.gave(limits, layout, result.notes, tolerance)
    return Becoming(
        request.key, request.scale, not lacks, () if lacks else _cuts(blank, result.instrument), tuple(lacks), result
    )


def _already_cut(blank: Instrument, n: int) -> list[Bound]:
    """The foot can only get shorter, and holes only larger."""
    size = 1 + 2 * n
    foot = np.zeros(size)
    foot[0] = -1.0
    found = [Bound("foot that there is", blank.foot_x, False, foot, -blank.foot_x, gives=False)]
    for i, hole in enumerate(blank.holes):
        row = np.zeros(size)
        row[n + 1 + i] = 1.0
        found.append(Bound(f"hole {i + 1} as it is", hole.diameter, True, row, hole.diameter, gives=False))
    return found


def _cuts(blank: Instrument, flute: Instrument) -> tuple[str, ...]:
    """What to cut to get from a blank to a flute, in words."""
    cuts = []
    if blank.foot_x - flute.foot_x > CHANGED:
        cuts.append(f"cut {blank.foot_x - flute.foot_x:.1f} mm off the foot, to {flute.foot_x:.1f} mm")
    for i, hole in enumerate(flute.holes):
        if not blank.holes:
            cuts.append(f"drill hole {i + 1} at {hole.x:.1f} mm, {hole.diameter:.1f} mm wide")
        elif hole.diameter - blank.holes[i].diameter > CHANGED:
            cuts.append(f"enlarge hole {i + 1} from {blank.holes[i].diameter:.1f} to {hole.diameter:.1f} mm")
    return tuple(cuts)
