"""What the gauges of a blank showed, and the flute that follows from it: what was measured is believed.

A size that did not pass is in the wood all the same, and one that was let pass for a reason too: the last measure of
each gauge counts, however it came out.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from sqlmodel import Session

from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.resonance import Mode, predict
from webapp.models import BlankStep, Outcome, StepRecord
from webapp.shop.blanks.state import counted, records_of, steps_of
from webapp.shop.routings.making import edge_height

LEAST: Final = 0.0051
"""mm: less is no difference, since nominal sizes are given to a hundredth."""


@dataclass(frozen=True, slots=True)
class Cost:
    """What a size that is off does to the notes: cents at the lowest, and at the note that it moves most."""

    lowest: float
    most: float

    @property
    def words(self) -> str:
        """One sentence."""
        if abs(self.lowest) < 0.5 and abs(self.most) < 0.5:
            return "By itself it moves no note by a cent."
        if abs(self.most - self.lowest) < 1.0:
            return f"By itself it moves every note by about {self.most:+.0f} cents."
        return f"By itself it moves the lowest note by {self.lowest:+.0f} cents, another by up to {self.most:+.0f}."


def last_values(steps: Iterable[BlankStep], records: list[StepRecord]) -> dict[str, float]:
    """The last size that each gauge showed and that was not taken back, by the code of its step [mm]."""
    codes = {step.id: step.code for step in steps}
    return {
        codes[record.step_id]: record.value
        for record in counted(records)
        if record.value is not None and record.outcome is not Outcome.TAKEN_BACK and record.step_id in codes
    }


def of_blank(session: Session, blank_id: int) -> dict[str, float]:
    """The same from the database."""
    return last_values(steps_of(session, blank_id), records_of(session, blank_id))


def as_gauged(design: Instrument, found: Mapping[str, float]) -> tuple[Instrument, tuple[str, ...]]:
    """The flute with its bore and head as they were gauged, holes and foot where the pattern has them; and what those
    were, in words. What no flute can have is left as the pattern has it."""
    flute, names = design, []
    for code, name, present, changed in _CHANGES:
        size, now = found.get(code), present(flute)
        if size is None or now is None:
            continue
        if abs(size - now) > LEAST:
            try:
                flute = changed(flute, design, size).validate()
            except (InvalidInput, ValueError):
                continue
        if name not in names:
            names.append(name)
    return flute, tuple(names)


def _bore(flute: Instrument, design: Instrument, size: float) -> Instrument:
    more = size - design.bore[-1][1]
    return _with_bore(flute, tuple((x, diameter + more) for x, diameter in design.bore))


def _bore_depth(flute: Instrument, design: Instrument, depth: float) -> Instrument:
    """Planing the faces makes each channel shallower, no narrower: it counts by the area that is left."""
    across = flute.bore[-1][1]
    more = math.sqrt(across * 2.0 * depth) - across
    return _with_bore(flute, tuple((x, diameter + more) for x, diameter in flute.bore))


def _with_bore(flute: Instrument, bore: tuple[tuple[float, float], ...]) -> Instrument:
    """Another bore in wood whose outside stays: the walls take up the difference."""
    less = (bore[-1][1] - flute.bore[-1][1]) / 2.0
    wall = replace(flute.body, wall=flute.body.wall - less)
    window = flute.window
    if window.wall is not None:
        window = replace(window, wall=window.wall - less, edge_height=max(0.0, window.edge_height - less))
    holes = tuple(hole if hole.wall is None else replace(hole, wall=hole.wall - less) for hole in flute.holes)
    return replace(flute, bore=bore, body=wall, window=window, holes=holes)


def _window_length(flute: Instrument, design: Instrument, size: float) -> Instrument:
    """The edge is where lengths start: what is more was taken from the back wall, up to the plug's face at most."""
    return replace(flute, window=replace(flute.window, length=size))


def _window_width(flute: Instrument, design: Instrument, size: float) -> Instrument:
    return replace(flute, window=replace(flute.window, width=size))


def _window_wall(flute: Instrument, design: Instrument, size: float) -> Instrument:
    return replace(flute, window=replace(flute.window, wall=size))


def _edge(flute: Instrument, design: Instrument, size: float) -> Instrument:
    """By how much it is off: a pattern from before edges had a height means one that its corrections know."""
    height = max(0.0, design.window.edge_height + size - edge_height(design))
    return replace(flute, window=replace(flute.window, edge_height=height))


def _places(flute: Instrument, design: Instrument, size: float) -> Instrument:
    """The last hole's place: a strip that is not true, or a rule laid on wrongly, moves each hole by its share."""
    share = size / design.holes[-1].x if design.holes else 1.0
    return flute.with_holes([replace(hole, x=hole.x * share) for hole in flute.holes])


def _flue_depth(flute: Instrument, design: Instrument, size: float) -> Instrument:
    return replace(flute, flue=replace(flute.flue, depth=size)) if flute.flue else flute


def _flue_width(flute: Instrument, design: Instrument, size: float) -> Instrument:
    return replace(flute, flue=replace(flute.flue, width=size)) if flute.flue else flute


def _last_hole(flute: Instrument) -> float | None:
    return flute.holes[-1].x if flute.holes else None


_Present = Callable[[Instrument], float | None]
_Changed = Callable[[Instrument, Instrument, float], Instrument]

_CHANGES: Final[tuple[tuple[str, str, _Present, _Changed], ...]] = (
    ("bore-gauge", "bore", lambda flute: flute.bore[-1][1], _bore),
    ("bore-again", "bore", lambda flute: flute.bore[-1][1] / 2, _bore_depth),
    ("window-wall", "wall at the window", lambda flute: flute.window_wall, _window_wall),
    ("window-length", "window length", lambda flute: flute.window.length, _window_length),
    ("window-width", "window width", lambda flute: flute.window.width, _window_width),
    ("edge-height", "edge height", edge_height, _edge),
    ("flue-depth", "flue depth", lambda flute: flute.flue.depth if flute.flue else None, _flue_depth),
    ("flue-width", "flue width", lambda flute: flute.flue.width if flute.flue else None, _flue_width),
    ("last-hole", "places of the finger holes", _last_hole, _places),
)
"""Code of the step, what it is called, its size in a flute, and the flute with another one; in the order of work."""


def cost(design: Instrument, air: Air, step: BlankStep, value: float) -> Cost | None:
    """What this size does to the notes, everything else as the pattern has it; None where it does nothing that the
    model knows, or no such flute is possible."""
    if step.nominal is None or abs(value - step.nominal) < LEAST:
        return None
    off, names = _alone(design, step.code, value)
    if not names:
        return None
    fingerings = [_opened(len(design.holes), number) for number in range(len(design.holes) + 1)]
    moved = []
    for before, after in zip(predict(design, air, fingerings, 1), predict(off, air, fingerings, 1), strict=True):
        one, other = before.modes[0], after.modes[0]
        if isinstance(one, Mode) and isinstance(other, Mode):
            moved.append(1200.0 * math.log2(other.frequency / one.frequency))
    if not moved:
        return None
    return Cost(moved[0], max(moved, key=abs))


def _alone(design: Instrument, code: str, value: float) -> tuple[Instrument, tuple[str, ...]]:
    if code == "turned":
        return with_outside(design, value), ("outside",)
    return as_gauged(design, {code: value})


def _opened(holes: int, number: int) -> str:
    """The fingering with so many holes open, from the foot up."""
    return "x" * (holes - number) + "o" * number


THINNEST: Final = 0.5
"""mm of wall below which a gauged outside is not believed."""


def with_outside(design: Instrument, outside: float) -> Instrument:
    """The flute turned to another outside [mm]; as designed where that would leave no wall."""
    wall = (outside - max(diameter for _, diameter in design.bore)) / 2
    if wall < THINNEST:
        return design
    more = wall - design.body.wall
    holes = [
        tuple(hole if hole.wall is None else replace(hole, wall=max(THINNEST, hole.wall + more)) for hole in group)
        for group in (design.holes, design.foot_holes)
    ]
    return replace(design, body=replace(design.body, wall=wall), holes=holes[0], foot_holes=holes[1])
