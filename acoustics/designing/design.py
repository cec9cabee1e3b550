"""From a key and a hand to a flute that plays in tune: foot, finger holes, and what limits them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from acoustics.designing import findings, wishes
from acoustics.designing.fitting import Goal, fit
from acoustics.designing.layout import Array, PitchModel, with_layout
from acoustics.designing.limits import Bound, bounds
from acoustics.designing.request import DesignRequest
from acoustics.designing.snapping import finish
from acoustics.errors import CannotMeet
from acoustics.flute.instrument import Hole, Instrument
from acoustics.notes.music import Target
from acoustics.saying import Saying

__all__ = ["Design", "DesignRequest", "DesignedNote", "design"]


@dataclass(frozen=True, slots=True)
class DesignedNote:
    """One note of the chart on the designed flute: Hz, and cents above the target.

    `cross` marks a cross fingering. `octave_cents` is how far the second resonance lies above twice the target,
    None where there is none.
    """

    fingering: str
    note: str
    target: float
    frequency: float
    cents: float
    cross: bool = False
    octave_cents: float | None = None

    @staticmethod
    def from_json(document: Mapping[str, Any]) -> DesignedNote:
        """A note that `to_json` wrote."""
        target = float(document["target"])
        octave = document.get("octave_cents")
        return DesignedNote(
            fingering=str(document["fingering"]),
            note=str(document["note"]),
            target=target,
            frequency=float(document.get("frequency", target)),
            cents=float(document["cents"]),
            cross=bool(document.get("cross", False)),
            octave_cents=None if octave is None else float(octave),
        )

    def to_json(self) -> dict[str, Any]:
        """The note as JSON; frequencies in Hz to four places."""
        return {
            "fingering": self.fingering,
            "note": self.note,
            "target": round(self.target, 4),
            "frequency": round(self.frequency, 4),
            "cents": round(self.cents, 4),
            "cross": self.cross,
            "octave_cents": None if self.octave_cents is None else round(self.octave_cents, 2),
        }


@dataclass(frozen=True, slots=True)
class Design:
    """A flute, its predicted notes, the limits that bind, and warnings."""

    instrument: Instrument
    notes: tuple[DesignedNote, ...]
    limits: tuple[Saying, ...]
    warnings: tuple[Saying, ...]

    def to_json(self) -> dict[str, Any]:
        """The design as JSON, as `python -m acoustics design` writes it."""
        return {
            "instrument": self.instrument.to_json(),
            "notes": [n.to_json() for n in self.notes],
            "limits": [str(limit) for limit in self.limits],
            "warnings": [str(warning) for warning in self.warnings],
        }


def design(request: DesignRequest) -> Design:
    """The flute for a request.

    The first register is tuned by foot, hole positions and hole diameters; what freedom is left goes
    to comfortable holes and, by its weight, to the second register. Diameters are then taken from the drills and
    the positions solved again. Positions are rounded to 0.01 mm.

    Raises CannotMeet, carrying the nearest design and what had to give, where no layout keeps every limit with
    every note of its own hole within one cent.
    """
    targets = request.targets()
    limits = bounds(request.limits, request.holes)
    start = wishes.start(request, targets)
    template = request.blank(float(start[0])).with_holes([Hole(1.0, 1.0)] * request.holes)
    model = PitchModel(template, [t.fingering for t in targets], request.air)
    goal = wishes.goal(request, targets)
    found = fit(model, goal, limits, start)
    layout = finish(model, goal, limits, found, request.racks)
    result = assemble(request, targets, model, goal, limits, layout)
    gave = findings.gave(limits, layout, result.notes)
    if gave:
        raise CannotMeet(result, gave)
    return result


def assemble(
    request: DesignRequest,
    targets: Sequence[Target],
    model: PitchModel,
    goal: Goal,
    limits: Sequence[Bound],
    layout: Array,
    off: float = 0.0,
) -> Design:
    """The design of a finished layout; `off` is how many cents this flute stands above the model, all notes alike."""
    w = model.search(layout)
    cents = goal.cents(w)
    sharper = 2.0 ** (off / 1200.0)
    notes = tuple(
        DesignedNote(
            t.fingering,
            t.note,
            t.frequency,
            float(w[i, 0].real / (2.0 * np.pi)) * sharper,
            float(cents[i, 0]),
            t.cross,
            float(cents[i, 1]) if np.isfinite(cents[i, 1]) else None,
        )
        for i, t in enumerate(targets)
    )
    flute = with_layout(model.template, layout).validate()
    return Design(flute, notes, findings.binding(limits, layout), findings.warnings(request, notes, layout))


def run(document: object) -> dict[str, Any]:
    """The `design` command: a request as JSON to a design as JSON. Raises InvalidInput or CannotMeet."""
    return design(DesignRequest.from_json(document)).to_json()
