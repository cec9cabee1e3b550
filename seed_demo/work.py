"""Walks blanks through the shop's own rules, on a clock set back, with the scatter of real hands."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random

from sqlmodel import Session, col, select

from seed_demo import at_the_bench
from seed_demo.history_rows import WHY
from seed_demo.tuning import Flute
from webapp.models import (
    Adhesive,
    Blank,
    BlankStep,
    DefectChoice,
    Shop,
    StepKind,
    StepState,
    at,
)
from webapp.shop.base.errors import Doubtful
from webapp.shop.bench.cuts import Sizes
from webapp.shop.blanks.state import steps_of
from webapp.shop.glue import rules as glue_up
from webapp.shop.people.accounts import Who
from webapp.shop.production import defects, stages
from webapp.shop.production.defects import Decide, RecordDefect

# Working time at the bench for one step, in minutes.
SHORTEST, LONGEST = 6, 25
# How many notes of a flute were read that is left in the middle of its tuning.
BEGUN = (0, 2, 3, 5)
CLAMPS = "clamps"


@dataclass
class Bench:
    """The people at the bench, the calendar, and the dice."""

    session: Session
    makers: list[Who]
    dice: Random
    today: datetime
    # Each blank as it really is, once it sounds.
    flutes: dict[int, Flute] = field(default_factory=dict)
    # Its sizes as they are written down, until the next step or cut.
    sizes: dict[int, Sizes] = field(default_factory=dict)
    shop: Shop = field(init=False)

    def __post_init__(self) -> None:
        shop = self.session.get(Shop, 1)
        assert shop is not None
        # A copy: it need not be asked for again after each commit.
        self.shop = Shop(**shop.model_dump())

    def hand(self) -> Who:
        return self.dice.choice(self.makers)

    def pause(self, moment: datetime) -> datetime:
        """Some minutes later, within the shop's working hours and never beyond now."""
        later = moment + timedelta(minutes=self.dice.randint(SHORTEST, LONGEST))
        if later.hour >= 18:
            later = (later + timedelta(days=1)).replace(hour=8, minute=self.dice.randint(0, 40))
        return later

    def must_be_past(self, moment: datetime) -> datetime:
        return min(moment, self.today)


def walk(bench: Bench, batch: list[tuple[Blank, str]], start: datetime) -> None:
    """Take a batch of blanks, glued up together, to where each is to stand."""
    moment = start
    for blank, end in batch:
        moment = _steps(bench, blank, _before_glue(end), moment)
    ready = [(blank, end) for blank, end in batch if end not in _BORING_ENDS]
    if not ready:
        return
    if all(end == CLAMPS for _, end in ready):
        # In the clamps at this very moment: the clamps went on some minutes ago.
        _glue(bench, [blank for blank, _ in ready], bench.today - timedelta(minutes=bench.dice.randint(12, 30)))
        return
    moment = _glue(bench, [blank for blank, _ in ready], moment)
    for blank, end in ready:
        _after_glue(bench, blank, end, moment)


_BORING_ENDS = {"halves", "bore", "bore-sanded", "bore-gauge", "dry-fit", "glue-up"}


def _before_glue(end: str) -> str:
    return end if end in _BORING_ENDS else "glue-up"


def _glue(bench: Bench, batch: list[Blank], moment: datetime) -> datetime:
    """One glue-up; gives the moment when its glue has cured. The clamps stay on where that is still to come."""
    session, who = bench.session, bench.hand()
    adhesive = session.exec(select(Adhesive).order_by(col(Adhesive.id))).first()
    assert adhesive is not None and adhesive.id is not None
    ids = [blank.id for blank in batch if blank.id is not None]
    moment = bench.must_be_past(moment)
    with at(moment):
        asked = glue_up.Spread(
            blanks=ids,
            adhesive_id=adhesive.id,
            lot="W-2214",
            temperature=round(bench.dice.gauss(19.5, 1.0), 1),
        )
        made = glue_up.spread(session, who, asked)
    assert made.id is not None
    on = moment + timedelta(minutes=bench.dice.uniform(2.5, 6.5))
    with at(on):
        glue_up.clamp(session, who, made.id)
    for blank in batch:
        on += timedelta(minutes=2)
        if on < bench.today:
            _record_code(bench, blank, "swab", on)
    out = moment + timedelta(minutes=made.clamp_minutes + 15)
    if out < bench.today:
        with at(out):
            glue_up.take_out(session, who, made.id, glue_up.TakeOutOfClamps())
    return moment + timedelta(minutes=made.cure_minutes + 30)


def _after_glue(bench: Bench, blank: Blank, end: str, moment: datetime) -> None:
    if end == "firewood":
        moment = _steps(bench, blank, bench.dice.choice(("flue", "window", "turned")), moment)
        with at(bench.must_be_past(moment)):
            (*_, cause), why = bench.dice.choice(WHY)
            assert blank.id is not None
            hand = bench.hand()
            asked = RecordDefect(cause=cause, what=why, grave=True, start=7 * 25.4, end=9 * 25.4)
            found = defects.record(bench.session, hand, blank.id, asked)
            decided = Decide(decided=DefectChoice.FIREWOOD, why="Too far gone to fill")
            defects.decide(bench.session, hand, found.id or 0, decided)
        return
    _steps(bench, blank, end, moment)


def _steps(bench: Bench, blank: Blank, end: str, moment: datetime) -> datetime:
    """Record step after step until the one named `end` comes next, or until the present is reached."""
    assert blank.id is not None
    for step in steps_of(bench.session, blank.id):
        if step.state is StepState.PASSED:
            continue
        stop = step.code == end or (end == "holes" and step.code.startswith("hole-"))
        if stop and step.kind in (StepKind.FUNDAMENTAL, StepKind.READINGS):
            at_the_bench.read(bench, blank, step, moment, notes=bench.dice.choice(BEGUN))
        if stop or moment >= bench.today or step.kind is StepKind.GLUE_UP:
            break
        moment = _one(bench, blank, step, moment)
        if blank.waits_until and step.kind is StepKind.COAT:
            moment = bench.pause(max(moment, blank.waits_until))
    return moment


def _one(bench: Bench, blank: Blank, step: BlankStep, moment: datetime) -> datetime:
    """One step, as it goes on a usual day: a gauge may fail first and be brought right."""
    assert step.id is not None
    if step.kind is StepKind.CURE:
        moment = bench.pause(max(moment, blank.waits_until or moment))
        if moment >= bench.today:
            return moment
    if step.kind in (StepKind.FUNDAMENTAL, StepKind.READINGS):
        moment = at_the_bench.read(bench, blank, step, moment)
        if moment >= bench.today:
            return moment
    value = _gauged(bench, step)
    if value is not None and step.low is not None and bench.dice.random() < 0.05:
        # On the side that can still be brought right: too little was taken off.
        off = (step.low or 0) - max(0.05, abs(bench.dice.gauss(0.15, 0.08)))
        if off > 0:
            _record(bench, step, stages.RecordStep(value=round(off, 2)), moment)
            moment = bench.pause(moment)
            if moment >= bench.today:
                return moment
    note = bench.dice.choice(NOTES) if bench.dice.random() < 0.06 else ""
    _record(bench, step, stages.RecordStep(value=value, note=note), moment)
    return bench.pause(moment)


NOTES = (
    "Grain lifts near the foot: went the other way.",
    "Sharpened first.",
    "Needed a second pass.",
    "Lovely figure under the block.",
    "A shade more off the left side.",
)


def _record(bench: Bench, step: BlankStep, asked: stages.RecordStep, moment: datetime) -> None:
    assert step.id is not None
    with at(bench.must_be_past(moment)):
        who = bench.hand()
        try:
            stages.record(bench.session, who, step.id, asked)
        except Doubtful as asks:
            stages.record(bench.session, who, step.id, asked.model_copy(update={"sure": asks.sure}))
    bench.sizes.pop(step.blank_id, None)


def _record_code(bench: Bench, blank: Blank, code: str, moment: datetime) -> None:
    assert blank.id is not None
    step = next(step for step in steps_of(bench.session, blank.id) if step.code == code)
    _record(bench, step, stages.RecordStep(), moment)


def _gauged(bench: Bench, step: BlankStep) -> float | None:
    if step.kind is not StepKind.GAUGE or step.nominal is None:
        return None
    low = step.low if step.low is not None else step.nominal
    high = step.high if step.high is not None else step.nominal
    value = bench.dice.gauss((low + high) / 2 * 0.5 + step.nominal * 0.5, (high - low) / 8)
    return round(min(high, max(low, value)), 2)
