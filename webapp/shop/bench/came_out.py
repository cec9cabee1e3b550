"""How the flutes made from a pattern came out: their last readings of every note, against target and prediction."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

import sqlalchemy as sa
from sqlmodel import Session, col, select

from webapp.models import Blank, BlankStatus, PatternRevision, Reading, Stage
from webapp.shop.bench.readings import counted
from webapp.shop.patterns.revisions import notes_of

NEWEST = 100
"""Flutes that are looked at, the ones finished last first: a pattern's past of years ago tells little."""
DONE = (BlankStatus.FINISHED, BlankStatus.HANDED_OVER)


@dataclass(frozen=True, slots=True)
class NoteOutcome:
    """One note of the chart over all these flutes, in cents above its target in the shop's played air."""

    fingering: str
    note: str
    predicted: float | None
    cents: tuple[float, ...]

    @property
    def mean(self) -> float:
        return fmean(self.cents)

    @property
    def sd(self) -> float | None:
        """None for fewer than three flutes: no spread can be told from them."""
        return stdev(self.cents) if len(self.cents) > 2 else None


@dataclass(frozen=True, slots=True)
class CameOut:
    """The notes that were read, and on how many flutes."""

    flutes: int
    notes: tuple[NoteOutcome, ...]


def _newest(session: Session, revision_ids: Sequence[int | None]) -> list[int]:
    """The flutes of these revisions that were finished last. Each revision's are found by themselves, along an index:
    asked for together, all that were ever built of them would be put in order."""
    parts = [
        sa.select(col(Blank.id), col(Blank.finished_at))
        .where(col(Blank.revision_id) == one, col(Blank.status).in_(DONE))
        .order_by(col(Blank.finished_at).desc(), col(Blank.id).desc())
        .limit(NEWEST)
        .subquery()
        for one in revision_ids
    ]
    found = sa.union_all(*(sa.select(part.c.id, part.c.finished_at) for part in parts)).subquery()
    newest = sa.select(found.c.id).order_by(found.c.finished_at.desc(), found.c.id.desc()).limit(NEWEST)
    return list(session.execute(newest).scalars())


def came_out(session: Session, revision: PatternRevision, all_revisions: bool = False) -> CameOut | None:
    """The last readings taken at finishing, of finished flutes of this revision, or of its whole pattern.

    Prediction is that of `revision`. None where nothing was read yet. Three queries, however many flutes there are.
    """
    own = [revision.id]
    if all_revisions:
        of_pattern = select(PatternRevision.id).where(PatternRevision.pattern_id == revision.pattern_id)
        own = list(session.exec(of_pattern))
    ids = _newest(session, own)
    rows = list(
        session.exec(
            select(Reading)
            .where(col(Reading.blank_id).in_(ids), Reading.stage == Stage.FINISHING)
            .order_by(col(Reading.id))
        )
    )
    last = {(reading.blank_id, reading.fingering): reading.cents for reading in counted(rows)}
    notes = []
    for note in notes_of(revision):
        cents = tuple(value for (_, read), value in last.items() if read == note.fingering)
        if cents:
            notes.append(NoteOutcome(note.fingering, note.note, note.cents, cents))
    return CameOut(len({blank for blank, _ in last}), tuple(notes)) if notes else None
