"""Patterns as screens show them: the list, one pattern's revisions, how many blanks were built from each."""

from dataclasses import dataclass, field

from sqlalchemy import func
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from webapp.models import Blank, BlankStatus, Pattern, PatternRevision, Person
from webapp.shop.units.keys import spellings

MOST_SHOWN = 300
MOST_COUNTED = 500
"""Blanks of one pattern that the list counts at most; a pattern's own page counts all."""


@dataclass(frozen=True, slots=True)
class Row:
    """A pattern in the list; its blanks are counted up to `MOST_COUNTED`."""

    pattern: Pattern
    revisions: int
    proven: int
    blanks: int

    @property
    def built(self) -> str:
        return f"over {MOST_COUNTED}" if self.blanks > MOST_COUNTED else str(self.blanks)


@dataclass(slots=True)
class RevisionRow:
    """A revision, who made and who proved it, and its blanks counted by status."""

    revision: PatternRevision
    made_by: str
    proven_by: str | None
    blanks: dict[str, int] = field(default_factory=dict)

    @property
    def built(self) -> int:
        return sum(self.blanks.values())

    @property
    def outcome(self) -> str:
        """The status of its blanks in words: 2 in work, 5 finished, 1 firewood."""
        finished = self.blanks.get("finished", 0) + self.blanks.get("handed over", 0)
        counted = {"in work": self.blanks.get("in work", 0), "finished": finished, "firewood": 0}
        counted["firewood"] = self.blanks.get(BlankStatus.FIREWOOD.value, 0)
        return ", ".join(f"{n} {words}" for words, n in counted.items() if n)


def listed(session: Session, key: str | None = None, proven: bool = False) -> list[Row]:
    """Patterns by name; with `key` only those of one key (in any spelling), with `proven` only proven ones."""
    of_pattern = select(func.count()).select_from(PatternRevision).where(PatternRevision.pattern_id == Pattern.id)
    revision_count = of_pattern.correlate(Pattern)
    proven_count = revision_count.where(col(PatternRevision.proven_at).is_not(None))
    some = (
        select(Blank.id)
        .join(PatternRevision, col(PatternRevision.id) == Blank.revision_id)
        .where(PatternRevision.pattern_id == Pattern.id)
        .limit(MOST_COUNTED + 1)
        .correlate(Pattern)
        .subquery()
    )
    blanks = select(func.count()).select_from(some)
    proven_number = proven_count.scalar_subquery()
    statement = (
        select(Pattern, revision_count.scalar_subquery(), proven_number, blanks.scalar_subquery())
        .order_by(Pattern.name)
        .limit(MOST_SHOWN)
    )
    if key:
        statement = statement.where(col(Pattern.key).in_(spellings(key)))
    if proven:
        statement = statement.where(proven_number > 0)
    return [Row(*row) for row in session.exec(statement)]


def revisions(session: Session, pattern_id: int) -> list[RevisionRow]:
    """A pattern's revisions, newest first."""
    maker, prover = aliased(Person), aliased(Person)
    found = session.exec(
        select(PatternRevision, maker.name, prover.name)
        .join(maker, col(maker.id) == PatternRevision.made_by)
        .join(prover, col(prover.id) == PatternRevision.proven_by, isouter=True)
        .where(PatternRevision.pattern_id == pattern_id)
        .order_by(col(PatternRevision.number).desc())
    )
    rows = {revision.id: RevisionRow(revision, made_by, proven_by) for revision, made_by, proven_by in found}
    counted = session.exec(
        select(Blank.revision_id, Blank.status, func.count())
        .where(col(Blank.revision_id).in_(rows))
        .group_by(col(Blank.revision_id), col(Blank.status))
    )
    for revision_id, status, count in counted:
        rows[revision_id].blanks[str(status)] = count
    return list(rows.values())
