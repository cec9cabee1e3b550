"""What a blank can still become: its foot only gets shorter, its holes only get larger."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Annotated, Literal

from pydantic import BaseModel, field_validator
from sqlmodel import Session, col, select

from acoustics.designing import other_keys as engine
from acoustics.designing.other_keys import Becoming
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.resonance import Mode, predict
from acoustics.notes.music import SCALES, Temperament
from webapp.models import (
    Blank,
    Cut,
    Drill,
    Pattern,
    PatternRevision,
    Reading,
    Shop,
    Stage,
    StepState,
    Units,
)
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.bench import as_built, cuts, readings
from webapp.shop.blanks import state as blank_state
from webapp.shop.patterns import rules as patterns
from webapp.shop.settings import air
from webapp.shop.units import engine_words
from webapp.shop.units.lengths import Length, show_length
from webapp.shop.units.sizes import between

_MARKED = 1.0
"""mm: what a hole that is marked and not drilled yet is put down as, among others that are."""

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

    `sizes` are the holes' diameters, None for one that is not drilled; `measured` names what was measured on the blank
    or written down as it was cut, the rest is the pattern's. `fundamental` is what it was last read at with all holes
    closed, in Hz in the shop's played air, and `off` how many cents that stood above the model of the blank as it was
    then.
    """

    flute: Instrument
    sizes: tuple[float | None, ...]
    measured: tuple[str, ...]
    fundamental: float | None
    off: float | None


@dataclass(frozen=True, slots=True)
class Key:
    """One key that was looked at: what to cut for it, or what is in the way, in the person's units."""

    becoming: Becoming
    cuts: tuple[str, ...]
    in_the_way: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Asks:
    """What the engine is asked: what a blank as it is can become by which drills (none: the common sets).

    Its holes that are `marked` are not drilled yet; it stands `off` cents from its model in this air.
    """

    flute: Instrument
    medium: Air
    off: float | None
    holes: int
    scale: str
    a4: float
    temperament: Temperament
    tolerance: float
    drills: tuple[float, ...]
    marked: tuple[int, ...]


def as_it_is(session: Session, blank: Blank) -> AsItIs:
    """The blank from its pattern, its gauges, and the cuts that were written down."""
    assert blank.id is not None
    built = as_built.of(session, blank)
    design, flute = built.design, built.turned if built.turned_at else built.design
    measured = [*built.gauged, *(["outside"] if built.turned_at and built.turned != built.design else [])]
    told = cuts.gauged(session, blank)
    made = cuts.of_blank(session, blank.id)
    left = cuts.at_first(session, blank)[0]
    first = (told.get(0, left), *(told.get(number) for number in range(1, len(design.holes) + 1)))
    now = cuts.after(first, made)
    counted = {cut.control for cut in cuts.counted(made)}
    if _tuned(session, blank.id):
        # Nobody wrote down what tuning cut: the pattern's finished sizes are nearer than what it was started at.
        finished = (design.foot_x, *(hole.diameter for hole in design.holes))
        now = tuple(size if i in counted else finished[i] for i, size in enumerate(now))
        told = {}
    if 0 in counted or 0 in told:
        measured.append("foot")
    holes = [str(i) for i in range(1, len(now)) if i in counted or i in told]
    if holes:
        measured.append(f"finger hole{'s' if len(holes) > 1 else ''} {', '.join(holes)}")
    flute = _at_foot(flute, now[0] or design.foot_x)
    heard = readings.latest(readings.of_blank(session, blank.id)).get("x" * len(design.holes))
    off = _off(session, heard, flute, first, made) if heard else None
    pitch = heard.target * 2 ** (heard.cents / 1200) if heard else None
    return AsItIs(flute, now[1:], tuple(measured), pitch, off)


def _off(session: Session, heard: Reading, flute: Instrument, first: cuts.Sizes, made: Sequence[Cut]) -> float | None:
    """How many cents a reading stood above the model of the blank as it was then; None where no model can be had."""
    then = cuts.after(first, made, heard.at)
    # At voicing there are no finger holes yet, whatever was drilled since.
    sizes = [None] * (len(then) - 1) if heard.stage is Stage.VOICING else list(then[1:])
    try:
        blank = _drilled_only(_with_sizes(_at_foot(flute, then[0] or flute.foot_x), sizes), sizes)
        medium = air.played(find(session, Shop, 1, "shop"))
        pitch = heard.target * 2 ** (heard.cents / 1200)
        return engine.offset(blank, medium, {"x" * len(blank.holes): pitch})
    except InvalidInput:
        return None


def keys(session: Session, blank: Blank, now: AsItIs, asked: OtherKeysAsked, units: Units) -> list[Key]:
    """Every key near enough to be looked at, those that can be had first. Raises Invalid."""
    pattern = _pattern(session, blank)
    shop = find(session, Shop, 1, "shop")
    sizes = asked.sizes[: len(now.flute.holes)]
    flute = _with_sizes(now.flute, sizes)
    if asked.foot:
        flute = at_foot(flute, asked.foot)
    count = len(flute.holes) or int(asked.holes or pattern.holes)
    marked = [number for number, size in enumerate(sizes, 1) if size is None] if flute.holes else []
    rack = session.exec(select(Drill.diameter).order_by(col(Drill.diameter))).all()
    asks = Asks(
        flute,
        air.played(shop),
        now.off,
        count,
        asked.scale,
        pattern.a4,
        pattern.temperament,
        shop.tolerance_cents,
        tuple(rack),
        tuple(marked),
    )
    try:
        found = _looked_at(asks)
    except InvalidInput as error:
        raise Invalid({"": f"No flute can be that: {engine_words.said(error)}."}) from error
    shown = [_in_words(one, units) for one in found]
    return sorted(shown, key=lambda key: not key.becoming.possible)


def _in_words(one: Becoming, units: Units) -> Key:
    cut = tuple(need.text(lambda mm: show_length(mm, units)) for need in one.needs)
    return Key(one, cut, tuple(lack.text(lambda mm: show_length(mm, units)) for lack in one.lacks))


def _with_sizes(flute: Instrument, sizes: Sequence[float | None]) -> Instrument:
    """The flute with its holes as wide as this, those not drilled marked; without any where none is drilled."""
    if not any(sizes):
        return flute.with_holes([])
    return flute.with_holes(
        [replace(hole, diameter=size or _MARKED) for hole, size in zip(flute.holes, sizes, strict=True)]
    )


def _drilled_only(flute: Instrument, sizes: Sequence[float | None]) -> Instrument:
    there = zip(flute.holes, sizes, strict=False)
    return flute.with_holes([hole for hole, size in there if size is not None])


def at_foot(flute: Instrument, foot: float) -> Instrument:
    """The same blank cut, or left, at another length [mm from the splitting edge]. Raises Invalid at `foot`."""
    end = max((hole.x + hole.diameter for hole in (*flute.holes, *flute.foot_holes)), default=0.0)
    if foot <= end:
        raise Invalid({"foot": "The foot can't lie before the last hole."})
    return _at_foot(flute, foot)


def _at_foot(flute: Instrument, foot: float) -> Instrument:
    kept = [point for point in flute.bore if point[0] < foot]
    return replace(flute, bore=(*kept, (foot, flute.bore_diameter(foot))))


@lru_cache(maxsize=64)
def _looked_at(asks: Asks) -> tuple[Becoming, ...]:
    """Kept, since a look takes some tenths of a second and gives the same each time."""
    flute = asks.flute.validate()
    there = flute.with_holes([hole for number, hole in enumerate(flute.holes, 1) if number not in asks.marked])
    closed = "x" * len(there.holes)
    heard = None
    lowest = predict(there, asks.medium, [closed], modes=1)[0].modes[0]
    if isinstance(lowest, Mode) and asks.off is not None:
        heard = {closed: lowest.frequency * 2 ** (asks.off / 1200)}
    return engine.other_keys(
        flute,
        asks.medium,
        heard,
        holes=asks.holes,
        scales=(asks.scale,),
        a4=asks.a4,
        temperament=asks.temperament,
        tolerance=asks.tolerance,
        drills=asks.drills,
        marked=asks.marked,
    )


def _pattern(session: Session, blank: Blank) -> Pattern:
    revision = find(session, PatternRevision, blank.revision_id, "revision")
    return patterns.pattern_of(session, revision.pattern_id)


def _tuned(session: Session, blank_id: int) -> bool:
    steps = blank_state.steps_of(session, blank_id)
    return any(step.code == "tuned" and step.state is StepState.PASSED for step in steps)
