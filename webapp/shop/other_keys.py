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
from acoustics.music import SCALES
from acoustics.other_keys import Becoming
from webapp.models import Blank, Drill, Pattern, PatternRevision, Shop, StepRecord, Units
from webapp.shop import air, blank_state, patterns, readings
from webapp.shop.errors import Invalid
from webapp.shop.finding import find
from webapp.shop.lengths import Length, show_length
from webapp.shop.sizes import between

NOT_DRILLED = 1.0
"""mm: a hole that is marked and not drilled yet, among others that are."""
CHANGED = 0.05  # mm of change that is worth a cut


class OtherKeysAsked(BaseModel):
    """What to look for: the scale, and where the foot is now (mm from the splitting edge)."""

    scale: str = "minor pentatonic"
    holes: Literal["5", "6"] | None = None
    foot: Annotated[Length, between(60.0, 1500.0)] | None = None

    @field_validator("scale")
    @classmethod
    def _a_scale(cls, value: str) -> str:
        if value not in SCALES:
            raise ValueError("Choose one of the list.")
        return value


@dataclass(frozen=True, slots=True)
class AsItIs:
    """A blank as far as it is cut. `measured` names the sizes that come from its gauges, the others are the pattern's.

    `fundamental` is what it was last read at with all holes closed, in Hz in the shop's played air.
    """

    flute: Instrument
    drilled: int
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
    sizes = [found.get(f"hole-{number}") for number in range(1, len(flute.holes) + 1)]
    drilled = sum(size is not None for size in sizes)
    holes = [replace(hole, diameter=size or NOT_DRILLED) for hole, size in zip(flute.holes, sizes, strict=True)]
    if drilled:
        measured.append("finger holes")
    flute = flute.with_holes(holes if drilled else [])
    closed = readings.latest(readings.of_blank(session, blank.id)).get("x" * len(sizes))
    heard = closed.target * 2 ** (closed.cents / 1200) if closed else None
    return AsItIs(flute, drilled, tuple(measured), heard)


def keys(session: Session, blank: Blank, now: AsItIs, asked: OtherKeysAsked, units: Units) -> list[Key]:
    """Every key near enough to be looked at, those that can be had first. Raises Invalid."""
    pattern = _pattern(session, blank)
    shop = find(session, Shop, 1, "shop")
    flute = at_foot(now.flute, asked.foot) if asked.foot else now.flute
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
    except InvalidInput as error:
        field = "foot" if "bore" in error.field or "foot" in error.limit else ""
        raise Invalid({field: f"{error.field}: {error.limit}."}) from error
    shown = [Key(one, cuts(flute, one.design.instrument, units) if one.possible else ()) for one in found]
    return sorted(shown, key=lambda key: not key.becoming.possible)


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


def _gauged(session: Session, blank_id: int) -> dict[str, float]:
    """The last size that each gauge of a blank showed, by the code of its step; whatever counts and was let stand."""
    codes = {step.id: step.code for step in blank_state.steps_of(session, blank_id)}
    records: list[StepRecord] = blank_state.counted(blank_state.records_of(session, blank_id))
    passed = [r for r in records if r.outcome in blank_state.COUNTS_AS_PASSED and r.value is not None]
    return {codes[record.step_id]: record.value for record in passed if record.value is not None}
