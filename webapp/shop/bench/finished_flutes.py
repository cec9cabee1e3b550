"""Which finished flutes the shop learns from: all of them, newest first, except what a person left out or reset."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Final

from pydantic import BaseModel, StringConstraints
from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    BlankStatus,
    Evidence,
    LearningChoice,
    LearningReset,
    Learnt,
    Pattern,
    PatternRevision,
    Person,
    Role,
)
from webapp.shop.base.errors import Refused
from webapp.shop.base.finding import find
from webapp.shop.blanks.state import lock
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who

NEWEST: Final = 3000
"""Flutes that are looked at, the ones finished last first: hands, tools and wood change over the years."""
DONE: Final = (BlankStatus.FINISHED, BlankStatus.HANDED_OVER)


class Reason(BaseModel):
    """Why a flute is left out of the learning, or why the learning is reset, or a reset is taken back."""

    why: Annotated[str, StringConstraints(min_length=1, max_length=300)]


@dataclass(frozen=True, slots=True)
class Pupil:
    """A finished flute, and whether the shop learns from it; `why` not, in a person's words."""

    blank_id: int
    serial: str
    pattern_id: int
    pattern: str
    finished_at: datetime
    counts: bool
    why: str


@dataclass(frozen=True, slots=True)
class Reset:
    """A row of the history: the learning was reset, or a reset was taken back."""

    row: LearningReset
    by: str
    holds: bool


def resets(session: Session) -> list[Reset]:
    """Every reset of the learning, newest first; the first that holds is the one that counts."""
    rows = session.exec(
        select(LearningReset, Person.name)
        .join(Person, col(Person.id) == LearningReset.by)
        .order_by(col(LearningReset.id).desc())
    ).all()
    undone = {row.undoes_id for row, _ in rows}
    return [Reset(row, name, row.undoes_id is None and row.id not in undone) for row, name in rows]


def last_reset(session: Session) -> LearningReset | None:
    """The reset that holds: flutes finished before it do not count."""
    return next((one.row for one in resets(session) if one.holds), None)


def pupils(session: Session) -> list[Pupil]:
    """All finished flutes since the reset that holds, the one finished last first; three queries."""
    since = last_reset(session)
    asked = (
        select(Blank.id, Blank.serial, Blank.finished_at, PatternRevision.pattern_id)
        .join(PatternRevision, col(PatternRevision.id) == Blank.revision_id)
        .where(col(Blank.finished_at).is_not(None), col(Blank.status).in_(DONE))
        .order_by(col(Blank.finished_at).desc(), col(Blank.id).desc())
        .limit(NEWEST)
    )
    if since is not None:
        asked = asked.where(col(Blank.finished_at) >= since.at)
    chosen = choices(session)
    names = dict(session.exec(select(Pattern.id, Pattern.name)).all())
    found = []
    for blank_id, serial, finished_at, pattern_id in session.exec(asked):
        assert blank_id is not None and finished_at is not None
        choice = chosen.get(blank_id)
        out = choice is not None and not choice.counts
        why = choice.why if choice is not None and out else ""
        found.append(Pupil(blank_id, serial, pattern_id, names[pattern_id], finished_at, not out, why))
    return found


def choices(session: Session) -> dict[int, LearningChoice]:
    """What a person decided last about each flute; most were never asked about."""
    return {row.blank_id: row for row in session.exec(select(LearningChoice).order_by(col(LearningChoice.id)))}


def marks(session: Session) -> str:
    """Changes whenever a person decides something about learning; a few index look-ups."""
    reset = session.exec(select(LearningReset.id).order_by(col(LearningReset.id).desc()).limit(1)).first()
    choice = session.exec(select(LearningChoice.id).order_by(col(LearningChoice.id).desc()).limit(1)).first()
    return f"{reset or 0}.{choice or 0}"


def reset(session: Session, who: Who, asked: Reason) -> LearningReset:
    """From now on earlier flutes do not count. Raises NotAllowed."""
    who.must(Role.OWNER)
    made = LearningReset(why=asked.why, by=who.id)
    session.add(made)
    diary.write(session, who, "shop", 1, "Learning reset: flutes finished before no longer count.", asked.why)
    session.flush()
    return made


def take_reset_back(session: Session, who: Who, reset_id: int, asked: Reason) -> LearningReset:
    """Take a reset back: the flutes before it count again. Raises NotAllowed, NotFound, Refused."""
    who.must(Role.OWNER)
    find(session, LearningReset, reset_id, "reset")
    if reset_id not in {one.row.id for one in resets(session) if one.holds}:
        raise Refused("That was taken back already.")
    made = LearningReset(why=asked.why, by=who.id, undoes_id=reset_id)
    session.add(made)
    diary.write(session, who, "shop", 1, "Reset of the learning taken back: earlier flutes count again.", asked.why)
    session.flush()
    return made


def leave_out(session: Session, who: Who, blank_id: int, asked: Reason) -> LearningChoice:
    """Leave a finished flute out of the learning. Raises NotAllowed, NotFound, Refused."""
    return _choose(session, who, blank_id, False, asked.why)


def take_in(session: Session, who: Who, blank_id: int) -> LearningChoice:
    """Let it count again. Raises NotAllowed, NotFound, Refused."""
    return _choose(session, who, blank_id, True, "")


def _choose(session: Session, who: Who, blank_id: int, counts: bool, why: str) -> LearningChoice:
    who.must(Role.MAKER)
    blank = lock(session, blank_id)
    if blank.status not in DONE:
        raise Refused(f"{blank.serial} is {blank.status}: the shop learns only from finished flutes.")
    before = choices(session).get(blank_id)
    if (before is None or before.counts) == counts:
        raise Refused(f"{blank.serial} {'counts' if counts else 'is left out'} already.")
    made = LearningChoice(blank_id=blank_id, counts=counts, why=why, by=who.id)
    session.add(made)
    what = f"{blank.serial} {'counts for the learning again' if counts else 'left out of the learning'}."
    diary.write(session, who, "shop", 1, what, why)
    session.flush()
    return made


def changed(session: Session, blank_id: int) -> None:
    """A finished flute's readings or cuts have changed: what it says is calculated again."""
    found = session.get(Evidence, blank_id)
    if found is None:
        return
    session.delete(found)
    if whole := session.get(Learnt, 1):
        whole.newest = None
        session.add(whole)
