"""Which finished flutes teach the shop: all of them, newest first, but for what a person left out, or began anew."""

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
    """Why a flute shall not teach, or why the shop begins anew, or goes back."""

    why: Annotated[str, StringConstraints(min_length=1, max_length=300)]


@dataclass(frozen=True, slots=True)
class Pupil:
    """A finished flute, and whether it teaches; `why` not, in a person's words."""

    blank_id: int
    serial: str
    pattern_id: int
    pattern: str
    finished_at: datetime
    counts: bool
    why: str


@dataclass(frozen=True, slots=True)
class Beginning:
    """A row of the history: the shop began anew, or took that back."""

    row: LearningReset
    by: str
    holds: bool


def beginnings(session: Session) -> list[Beginning]:
    """How often the shop began anew, newest first; the first that holds is the one that counts."""
    rows = session.exec(
        select(LearningReset, Person.name)
        .join(Person, col(Person.id) == LearningReset.by)
        .order_by(col(LearningReset.id).desc())
    ).all()
    undone = {row.undoes_id for row, _ in rows}
    return [Beginning(row, name, row.undoes_id is None and row.id not in undone) for row, name in rows]


def began(session: Session) -> LearningReset | None:
    """The beginning that holds: flutes finished before it do not count."""
    return next((one.row for one in beginnings(session) if one.holds), None)


def pupils(session: Session) -> list[Pupil]:
    """All finished flutes since the beginning that holds, the one finished last first; three queries."""
    since = began(session)
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


def begin_anew(session: Session, who: Who, asked: Reason) -> LearningReset:
    """From now on earlier flutes do not count. Raises NotAllowed."""
    who.must(Role.OWNER)
    made = LearningReset(why=asked.why, by=who.id)
    session.add(made)
    diary.write(session, who, "shop", 1, "Learning begun anew: flutes finished before no longer count.", asked.why)
    session.flush()
    return made


def go_back(session: Session, who: Who, reset_id: int, asked: Reason) -> LearningReset:
    """Take a beginning back: the flutes before it count again. Raises NotAllowed, NotFound, Refused."""
    who.must(Role.OWNER)
    find(session, LearningReset, reset_id, "beginning")
    if reset_id not in {one.row.id for one in beginnings(session) if one.holds}:
        raise Refused("That was taken back already.")
    made = LearningReset(why=asked.why, by=who.id, undoes_id=reset_id)
    session.add(made)
    diary.write(session, who, "shop", 1, "Beginning of the learning taken back: earlier flutes count again.", asked.why)
    session.flush()
    return made


def leave_out(session: Session, who: Who, blank_id: int, asked: Reason) -> LearningChoice:
    """Let a finished flute teach nothing. Raises NotAllowed, NotFound, Refused."""
    return _choose(session, who, blank_id, False, asked.why)


def take_in(session: Session, who: Who, blank_id: int) -> LearningChoice:
    """Let it teach again. Raises NotAllowed, NotFound, Refused."""
    return _choose(session, who, blank_id, True, "")


def _choose(session: Session, who: Who, blank_id: int, counts: bool, why: str) -> LearningChoice:
    who.must(Role.MAKER)
    blank = lock(session, blank_id)
    if blank.status not in DONE:
        raise Refused(f"{blank.serial} is {blank.status}: only a finished flute teaches the shop.")
    before = choices(session).get(blank_id)
    if (before is None or before.counts) == counts:
        raise Refused(f"{blank.serial} {'counts' if counts else 'is left out'} already.")
    made = LearningChoice(blank_id=blank_id, counts=counts, why=why, by=who.id)
    session.add(made)
    what = f"{blank.serial} {'teaches the shop again' if counts else 'left out of what the shop learns from'}."
    diary.write(session, who, "shop", 1, what, why)
    session.flush()
    return made


def changed(session: Session, blank_id: int) -> None:
    """A finished flute's readings or cuts have changed: what it says is made anew."""
    found = session.get(Evidence, blank_id)
    if found is None:
        return
    session.delete(found)
    if whole := session.get(Learnt, 1):
        whole.newest = None
        session.add(whole)
