"""Cuts: finger holes only get larger, the foot only gets shorter; the blank as it is follows from what was cut."""

from collections.abc import Sequence
from datetime import datetime
from typing import Annotated

import numpy as np
from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, select

from acoustics.designing.shop_spread import ShopSpread
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.tuning.aims import controls_of, with_controls
from webapp.models import (
    Blank,
    BlankStatus,
    BlankStep,
    Cut,
    Pattern,
    PatternRevision,
    Person,
    Reading,
    Stage,
    StepRecord,
)
from webapp.shop.base.errors import SURE, Doubtful, Invalid, Refused
from webapp.shop.base.finding import find
from webapp.shop.bench import finished_flutes
from webapp.shop.bench.first_sizes import sizes_for
from webapp.shop.blanks.state import counted as counted_records, lock
from webapp.shop.patterns import rules as patterns
from webapp.shop.people.accounts import Who
from webapp.shop.units.lengths import Length, show_cut, show_taken
from webapp.shop.units.sizes import between

CUTTING = (Stage.TUNING, Stage.FINISHING)
PAST = {False: 25.4 / 2, True: 25.4 / 16}  # mm past the finished foot or hole that are asked about
LEAST = 0.005  # mm: less is no cut
FOOT_STEP = "foot-start"  # the step that gauges how long the foot was left
HOLE_STEP = "hole-"  # what the code of a step begins with that starts a finger hole; its number follows

Sizes = tuple[float | None, ...]
"""The foot, then each finger hole [mm]; None where the shop was never told."""


class RecordCut(BaseModel):
    """A cut that was made: which hole (0: the foot), and the size it has now."""

    control: Annotated[int, Field(ge=0, le=8)]
    size: Annotated[Length, between(1.0, 1500.0)]
    note: Annotated[str, StringConstraints(max_length=500)] = ""
    sure: Annotated[str, StringConstraints(max_length=SURE)] = ""


class TakeBackCut(BaseModel):
    """Why an entry is taken back."""

    why: Annotated[str, StringConstraints(min_length=1, max_length=300)]


def name(control: int) -> str:
    """What a size is called."""
    return f"hole {control}" if control else "the foot"


def of_blank(session: Session, blank_id: int) -> list[Cut]:
    """All cuts of a blank, oldest first, with those taken back and the rows that take them back."""
    return list(session.exec(select(Cut).where(Cut.blank_id == blank_id).order_by(col(Cut.id))))


def counted(every: Sequence[Cut]) -> list[Cut]:
    """The cuts that count."""
    gone = {cut.corrects_id for cut in every if cut.taken_back}
    return [cut for cut in every if not cut.taken_back and cut.id not in gone]


def designed(session: Session, blank: Blank) -> Instrument:
    """The flute of the pattern's revision that this blank is built from."""
    return patterns.instrument_of(find(session, PatternRevision, blank.revision_id, "revision"))


def gauged(session: Session, blank: Blank) -> dict[int, float]:
    """What was measured of the foot as it was first cut (0) and of each finger hole as it was started [mm]."""
    return _gauged(session, blank, _starting(session, blank))


def _starting(session: Session, blank: Blank) -> dict[int, BlankStep]:
    """The steps that start a size, by their id, as they are in the database now."""
    asked = (
        select(BlankStep)
        .where(BlankStep.blank_id == blank.id)
        .where((col(BlankStep.code) == FOOT_STEP) | col(BlankStep.code).startswith(HOLE_STEP, autoescape=True))
        .order_by(col(BlankStep.position))
        .execution_options(populate_existing=True)
    )
    return {step.id: step for step in session.exec(asked) if step.id is not None and _control(step) is not None}


def _gauged(session: Session, blank: Blank, steps: dict[int, BlankStep]) -> dict[int, float]:
    if not steps:
        return {}
    asked = (
        select(StepRecord)
        .where(StepRecord.blank_id == blank.id, col(StepRecord.step_id).in_(steps))
        .order_by(col(StepRecord.id))
    )
    found: dict[int, float] = {}
    for record in counted_records(list(session.exec(asked))):
        control = _control(steps[record.step_id])
        # One that did not pass is as wide, or as short, as it was measured.
        if control is not None and record.value is not None:
            found[control] = record.value
    return found


def feet_left(session: Session, blank_ids: Sequence[int]) -> dict[int, float]:
    """How long the foot of each of several blanks was first left, where that was gauged [mm]; one query."""
    asked = (
        select(StepRecord)
        .join(BlankStep, col(BlankStep.id) == StepRecord.step_id)
        .where(col(BlankStep.blank_id).in_(blank_ids), BlankStep.code == FOOT_STEP)
        .order_by(col(StepRecord.id))
    )
    records = counted_records(list(session.exec(asked)))
    return {r.blank_id: r.value for r in records if r.value is not None}


def _control(step: BlankStep) -> int | None:
    """The size that a step starts: 0 the foot, else the number of its finger hole; None for any other step."""
    if step.code == FOOT_STEP:
        return 0
    number = step.code.removeprefix(HOLE_STEP)
    return int(number) if number.isdigit() and number != step.code else None


def at_first(session: Session, blank: Blank) -> Sizes:
    """The sizes as they were gauged when started; else those that the blank's own steps, or its pattern, begin with."""
    steps = _starting(session, blank)
    found = list(_of_the_pattern(session, blank, steps))
    for number, size in _gauged(session, blank, steps).items():
        if number < len(found):
            found[number] = size
    return tuple(found)


def _of_the_pattern(session: Session, blank: Blank, steps: dict[int, BlankStep]) -> Sizes:
    revision = find(session, PatternRevision, blank.revision_id, "revision")
    pattern = find(session, Pattern, revision.pattern_id, "pattern")
    # By the stated spread: the shop's own has changed since this blank was begun.
    start = sizes_for(session, pattern, revision, ShopSpread())
    if start is None:
        return (
            float(controls_of(patterns.instrument_of(revision))[0]),
            *(None for _ in patterns.instrument_of(revision).holes),
        )
    found = [start.foot_first, *(hole.first for hole in start.holes)]
    for step in steps.values():
        control = _control(step)
        if control is not None and control < len(found) and step.nominal is not None:
            found[control] = step.nominal
    return tuple(found)


def after(first: Sizes, every: Sequence[Cut], moment: datetime | None = None) -> Sizes:
    """The sizes after the cuts that count, or after those until `moment`."""
    found = list(first)
    for cut in counted(every):
        if (moment is None or cut.at <= moment) and cut.control < len(found):
            found[cut.control] = cut.size
    return tuple(found)


def when_read(first: Sizes, every: Sequence[Cut], heard: Sequence[Reading]) -> list[tuple[Reading, Sizes]]:
    """Readings (oldest first) with the sizes of the flute as it was then.

    Where sizes were only `found` when tuning ended, somebody cut without writing it down: the last reading of each note
    is of the flute as it was found, and of earlier ones nobody knows the sizes, so they are left out.
    """
    unseen = [cut for cut in counted(every) if cut.found and (cut.before is None or abs(cut.size - cut.before) > LEAST)]
    if not unseen:
        return [(reading, after(first, every, reading.at)) for reading in heard]
    told = max(cut.at for cut in unseen)
    last = {reading.fingering: reading.id for reading in heard if reading.at <= told}
    return [
        (reading, after(first, every, max(reading.at, told)))
        for reading in heard
        if reading.at > told or last[reading.fingering] == reading.id
    ]


def since(readings: Sequence[Reading], every: Sequence[Cut]) -> dict[int, list[int]]:
    """Which sizes were cut after each reading (by its id), in the order of the cuts: the flute is another since."""
    made = [cut for cut in counted(every) if not cut.found]
    found: dict[int, list[int]] = {}
    for reading in readings:
        later = list(dict.fromkeys(cut.control for cut in made if cut.at > reading.at))
        if later and reading.id is not None:
            found[reading.id] = later
    return found


def as_cut(flute: Instrument, sizes: Sizes) -> Instrument:
    """The flute with these sizes. Raises Invalid where one is not known, or where no flute can have it."""
    known = [size for size in sizes if size is not None]
    if len(known) < len(sizes):
        missing = ", ".join(name(i) for i, size in enumerate(sizes) if size is None)
        raise Invalid({"": f"The size now of {missing} is not known. Write each down as it was drilled."})
    try:
        return with_controls(flute, np.array(known)).validate()
    except InvalidInput as error:
        raise Invalid({"size": f"That is not possible: {error.limit}."}) from error


def record(session: Session, who: Who, blank_id: int, asked: RecordCut) -> Cut:
    """Write a cut down. Raises NotAllowed, NotFound, Refused, Invalid."""
    who.must_work()
    blank = lock(session, blank_id)
    if blank.status not in (BlankStatus.IN_WORK, BlankStatus.FINISHED) or blank.stage not in (Stage.VOICING, *CUTTING):
        raise Refused(f"{blank.serial} is not at the tuning bench: nothing is cut on it now.")
    if blank.stage is Stage.VOICING and asked.control:
        raise Refused("At voicing only the foot is shortened: finger holes come after turning.")
    flute = designed(session, blank)
    now = after(at_first(session, blank), of_blank(session, blank_id))
    if asked.control >= len(now):
        raise Invalid({"control": "Choose one of the pattern's holes, or the foot."})
    before = now[asked.control]
    what = name(asked.control)
    if before is not None and (asked.size - before) * (1 if asked.control else -1) < LEAST:
        only = "Holes only get larger" if asked.control else "The foot only gets shorter"
        already = f"{what} is at {show_cut(before, who.units)} already"
        raise Invalid({"size": f"{only}: {already}. If an earlier entry was wrong, take it back."})
    # Sizes that are not known yet are judged as the pattern has them.
    then = [d if n is None else n for d, n in zip(controls_of(flute).tolist(), now, strict=True)]
    then[asked.control] = asked.size
    as_cut(flute, tuple(then))
    _must_be_meant(asked, float(controls_of(flute)[asked.control]), who)
    made = Cut(blank_id=blank_id, control=asked.control, size=asked.size, before=before, note=asked.note, by=who.id)
    session.add(made)
    finished_flutes.changed(session, made.blank_id)
    session.flush()
    return made


def _must_be_meant(asked: RecordCut, finished: float, who: Who) -> None:
    """Ask about a cut well past the size that the pattern's flute ends with. Raises Doubtful."""
    past = (asked.size - finished) if asked.control else (finished - asked.size)
    sure = f"{asked.control} {asked.size:.4f}"
    if past <= PAST[bool(asked.control)] or asked.sure == sure:
        return
    what = f"{name(asked.control)} at {show_cut(asked.size, who.units)}".capitalize()
    raise Doubtful(
        f"{what} is {show_taken(past, who.units)} {'wider' if asked.control else 'shorter'} than the finished flute "
        f"of the pattern ({show_cut(finished, who.units)}): was it measured so?",
        sure,
    )


def take_back(session: Session, who: Who, cut_id: int, asked: TakeBackCut) -> Cut:
    """Take a wrong entry back by a further row that names it. Raises NotAllowed, NotFound, Refused."""
    who.must_work()
    wrong = find(session, Cut, cut_id, "cut")
    blank = lock(session, wrong.blank_id)
    if blank.status is BlankStatus.HANDED_OVER:
        raise Refused(f"{blank.serial} is handed over: its cuts stay as they are.")
    if wrong.id not in {cut.id for cut in counted(of_blank(session, wrong.blank_id))}:
        raise Refused("That entry was taken back already.")
    copied = wrong.model_dump(exclude={"id", "at", "by", "note", "corrects_id", "taken_back"})
    made = Cut(**copied, note=asked.why, by=who.id, corrects_id=wrong.id, taken_back=True)
    session.add(made)
    finished_flutes.changed(session, made.blank_id)
    session.flush()
    return made


def choose_way(session: Session, who: Who, by_drills: bool) -> None:
    """Whether this person's advice keeps to the drills on the rack. Raises NotAllowed."""
    who.must_work()
    person = find(session, Person, who.id, "person")
    person.by_drills = by_drills
    session.add(person)
    session.flush()
