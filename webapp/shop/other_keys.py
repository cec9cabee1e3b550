"""What a blank can still become: its foot only gets shorter, its holes only get larger."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Annotated, Any, Literal

from pydantic import BaseModel, field_validator
from sqlmodel import Session, col, select

from acoustics import other_keys as engine
from acoustics.air import Air
from acoustics.errors import InvalidInput
from acoustics.instrument import Hole, Instrument
from acoustics.leastsquares import InfeasibleError
from acoustics.music import SCALES
from acoustics.other_keys import Becoming
from webapp.models import Blank, Drill, Pattern, PatternRevision, Shop, StepRecord, StepState, Units
from webapp.shop import air, blank_state, patterns, readings
from webapp.shop.errors import Invalid
from webapp.shop.finding import find
from webapp.shop.lengths import Length, show_length
from webapp.shop.sizes import between

NOT_DRILLED = 1.0
"""mm: a hole that is marked and not drilled yet, among others that are."""
CHANGED = 0.05  # mm of change that is worth a cut


Size = Annotated[Length, between(1.0, 20.0)]


class OtherKeysAsked(BaseModel):
    """What to look for: the scale; where the foot is now (mm from the splitting edge), and how wide each hole is."""

    scale: str = "minor pentatonic"
    holes: Literal["5", "6"] | None = None
    foot: Annotated[Length, between(60.0, 1500.0)] | None = None
    hole_1: Size | None = None
    hole_2: Size | None = None
    hole_3: Size | None = None
    hole_4: Size | None = None
    hole_5: Size | None = None
    hole_6: Size | None = None

    @property
    def sizes(self) -> tuple[float | None, ...]:
        """The finger holes as they are now [mm], None for one that is not drilled yet."""
        return (self.hole_1, self.hole_2, self.hole_3, self.hole_4, self.hole_5, self.hole_6)

    @field_validator("scale")
    @classmethod
    def _a_scale(cls, value: str) -> str:
        if value not in SCALES:
            raise ValueError("Choose one of the list.")
        return value


@dataclass(frozen=True, slots=True)
class AsItIs:
    """A blank as far as it is cut, with the finger holes where its pattern has them.

    `sizes` are the holes' diameters as far as they are known, None for one that is not drilled; `measured` names what
    comes from the blank's gauges, the rest is the pattern's. `fundamental` is what it was last read at with all holes
    closed, in Hz in the shop's played air.
    """

    flute: Instrument
    sizes: tuple[float | None, ...]
    measured: tuple[str, ...]
    fundamental: float | None


@dataclass(frozen=True, slots=True)
class Key:
    """One key that was looked at: what to cut for it, or what is in the way."""

    becoming: Becoming
    cuts: tuple[str, ...]


def as_it_is(session: Session, blank: Blank) -> AsItIs:
    """The blank's geometry from its pattern and its gauges."""
    assert blank.id is not None
    flute = patterns.instrument_of(find(session, PatternRevision, blank.revision_id, "revision"))
    found = _gauged(session, blank.id)
    measured = []
    if bore := found.get("bore-gauge"):
        more = bore - flute.bore[-1][1]
        flute = replace(flute, bore=tuple((x, diameter + more) for x, diameter in flute.bore))
        measured.append("bore")
    for code, name in (("window-length", "length"), ("window-width", "width")):
        if size := found.get(code):
            flute = replace(flute, window=replace(flute.window, **{name: size}))
            measured.append(f"window {name}")
    sizes = tuple(found.get(f"hole-{number}") for number in range(1, len(flute.holes) + 1))
    if _tuned(session, blank.id):
        # Tuning opened the holes, and nobody gauges them again: the pattern's finished sizes are nearer.
        sizes = tuple(hole.diameter for hole in flute.holes)
    elif any(sizes):
        measured.append("finger holes as they were started")
    closed = readings.latest(readings.of_blank(session, blank.id)).get("x" * len(sizes))
    heard = closed.target * 2 ** (closed.cents / 1200) if closed else None
    return AsItIs(flute, sizes, tuple(measured), heard)


def keys(session: Session, blank: Blank, now: AsItIs, asked: OtherKeysAsked, units: Units) -> list[Key]:
    """Every key near enough to be looked at, those that can be had first. Raises Invalid."""
    pattern = _pattern(session, blank)
    shop = find(session, Shop, 1, "shop")
    flute = _with_sizes(now.flute, asked.sizes)
    if asked.foot:
        flute = at_foot(flute, asked.foot)
    count = len(flute.holes) or int(asked.holes or pattern.holes)
    request: dict[str, Any] = {"temperament": pattern.temperament}
    if rack := list(session.exec(select(Drill.diameter).order_by(col(Drill.diameter)))):
        request["drills"] = rack
    heard = {"x" * len(flute.holes): now.fundamental} if now.fundamental else {}
    try:
        found = _looked_at(
            json.dumps([flute.to_json(), heard, count, asked.scale, pattern.a4, shop.tolerance_cents, request]),
            air.played(shop),
        )
    except InfeasibleError as error:
        raise Invalid({"": "No key's limits allow sizes like these: a hole is wider than a finger covers."}) from error
    except InvalidInput as error:
        raise Invalid({"": f"{error.field.replace('_', ' ').capitalize()}: {error.limit}."}) from error
    shown = [Key(one, cuts(flute, one.design.instrument, units) if one.possible else ()) for one in found]
    return sorted(shown, key=lambda key: not key.becoming.possible)


def _with_sizes(flute: Instrument, sizes: Sequence[float | None]) -> Instrument:
    """The flute with its holes as wide as this; without any where none is drilled."""
    if not any(sizes):
        return flute.with_holes([])
    return flute.with_holes(
        [replace(hole, diameter=size or NOT_DRILLED) for hole, size in zip(flute.holes, sizes, strict=False)]
    )


def at_foot(flute: Instrument, foot: float) -> Instrument:
    """The same blank cut, or left, at another length [mm from the splitting edge]. Raises Invalid at `foot`."""
    end = max((hole.x + hole.diameter for hole in (*flute.holes, *flute.foot_holes)), default=0.0)
    if foot <= end:
        raise Invalid({"foot": "The foot can't lie before the last hole."})
    kept = [point for point in flute.bore if point[0] < foot]
    return replace(flute, bore=(*kept, (foot, flute.bore_diameter(foot))))


def cuts(blank: Instrument, flute: Instrument, units: Units) -> tuple[str, ...]:
    """What to cut to get from a blank to a flute, in words and in the person's units."""

    def say(mm: float) -> str:
        return show_length(mm, units)

    found = []
    if blank.foot_x - flute.foot_x > CHANGED:
        found.append(f"cut {say(blank.foot_x - flute.foot_x)} off the foot, to {say(flute.foot_x)} from the edge")
    before: Sequence[Hole | None] = blank.holes or [None] * len(flute.holes)
    for number, (old, new) in enumerate(zip(before, flute.holes, strict=True), 1):
        if old is None or old.diameter == NOT_DRILLED:
            found.append(f"drill hole {number} at {say(new.x)}, {say(new.diameter)} wide when finished")
        elif new.diameter - old.diameter > CHANGED:
            found.append(f"open hole {number} from {say(old.diameter)} to {say(new.diameter)}")
    return tuple(found)


@lru_cache(maxsize=64)
def _looked_at(asked: str, medium: Air) -> tuple[Becoming, ...]:
    """Kept, since a look takes some tenths of a second and gives the same each time."""
    flute, heard, holes, scale, a4, tolerance, request = json.loads(asked)
    return engine.other_keys(
        Instrument.from_json(flute),
        medium,
        heard,
        holes=holes,
        scales=(scale,),
        a4=a4,
        tolerance=tolerance,
        request=request,
    )


def _pattern(session: Session, blank: Blank) -> Pattern:
    revision = find(session, PatternRevision, blank.revision_id, "revision")
    return patterns.pattern_of(session, revision.pattern_id)


def _tuned(session: Session, blank_id: int) -> bool:
    steps = blank_state.steps_of(session, blank_id)
    return any(step.code == "tuned" and step.state is StepState.PASSED for step in steps)


def _gauged(session: Session, blank_id: int) -> dict[str, float]:
    """The last size that each gauge of a blank showed, by the code of its step; whatever counts and was let stand."""
    codes = {step.id: step.code for step in blank_state.steps_of(session, blank_id)}
    records: list[StepRecord] = blank_state.counted(blank_state.records_of(session, blank_id))
    passed = [r for r in records if r.outcome in blank_state.COUNTS_AS_PASSED and r.value is not None]
    return {codes[record.step_id]: record.value for record in passed if record.value is not None}
