"""Yield and scrap over a period: how many blanks became flutes, and why the others did not.

Few blanks say little: each share carries its Wilson interval (Wilson 1927, from memory), in which the long-run share
lies 95 times in 100.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from pydantic import BaseModel, model_validator
from sqlmodel import Session, col, func, select

from webapp.models import (
    Blank,
    BlankStatus,
    Defect,
    DefectChoice,
    DefectDecision,
    Pattern,
    PatternRevision,
    Person,
    Shop,
    Species,
    StepRecord,
)
from webapp.shop.base.finding import find

NOT_SAID = "not said"
NOBODY = "nobody in particular"
USUAL = timedelta(days=365)
FEW = 10  # blanks; below this a share is shown as saying little


class Period(BaseModel):
    """From the first day to the last, both counted."""

    first: date
    last: date

    @model_validator(mode="after")
    def _in_order(self) -> "Period":
        if self.last < self.first:
            raise ValueError("The last day lies before the first.")
        return self


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many, and the interval in which the true share likely lies (0 to 1)."""

    name: str
    part: int
    of: int

    @property
    def share(self) -> float:
        return self.part / self.of if self.of else 0.0

    @property
    def interval(self) -> tuple[float, float]:
        return _interval(self.part, self.of)

    @property
    def few(self) -> bool:
        return self.of < FEW


@dataclass(frozen=True, slots=True)
class Yields:
    """What came of the blanks that ended in a period: shares that became flutes, and of scrap by its cause."""

    overall: Share
    causes: list[Share]
    patterns: list[Share]
    woods: list[Share]
    people: list[Share]
    found: list[Share]  # of all defects found in the period, by their cause, how many ended as firewood


@lru_cache(1000)
def _interval(part: int, of: int) -> tuple[float, float]:
    """Everything where nothing is known."""
    if not of:
        return 0.0, 1.0
    from scipy.stats import binomtest  # a large module, and few pages show yields

    found = binomtest(part, of).proportion_ci(0.95, method="wilson")
    return float(found.low), float(found.high)


def of_period(session: Session, period: Period) -> Yields:
    """The figures of a period, by the day on the shop's clock on which a blank was finished or given up."""
    since, until = _moments(session, period)
    good = _finished(session, since, until)
    scrap = _given_up(session, since, until)
    blanks = {**good, **scrap}
    by_person = _hands(session, blanks)
    species = dict(session.exec(select(Species.id, Species.name)).all())
    pattern_of = dict(
        session.exec(
            select(PatternRevision.id, Pattern.name).join(Pattern, col(Pattern.id) == PatternRevision.pattern_id)
        ).all()
    )
    causes = Counter(_causes(session, list(scrap)).get(blank_id, NOT_SAID) for blank_id in scrap)

    def shares(name_of: dict[int, str]) -> list[Share]:
        all_of = Counter(name_of[blank_id] for blank_id in blanks)
        well = Counter(name_of[blank_id] for blank_id in good)
        return sorted((Share(name, well[name], count) for name, count in all_of.items()), key=lambda s: (-s.of, s.name))

    return Yields(
        overall=Share("All of them", len(good), len(blanks)),
        causes=[Share(name, count, len(blanks)) for name, count in causes.most_common()],
        patterns=shares({i: pattern_of.get(blank.revision_id, "") for i, blank in blanks.items()}),
        woods=shares({i: species.get(blank.species_id, "") for i, blank in blanks.items()}),
        people=shares(by_person),
        found=_found(session, since, until),
    )


def _moments(session: Session, period: Period) -> tuple[datetime, datetime]:
    zone = ZoneInfo(find(session, Shop, 1, "shop").timezone)
    since = datetime.combine(period.first, time(), zone).astimezone(UTC)
    return since, datetime.combine(period.last + timedelta(days=1), time(), zone).astimezone(UTC)


def _finished(session: Session, since: datetime, until: datetime) -> dict[int, Blank]:
    rows = session.exec(
        select(Blank).where(
            col(Blank.finished_at) >= since,
            col(Blank.finished_at) < until,
            col(Blank.status).in_([BlankStatus.FINISHED, BlankStatus.HANDED_OVER]),
        )
    )
    return {blank.id: blank for blank in rows if blank.id is not None}


def _given_up(session: Session, since: datetime, until: datetime) -> dict[int, Blank]:
    rows = session.exec(
        select(Blank).where(
            Blank.status == BlankStatus.FIREWOOD, col(Blank.given_up_at) >= since, col(Blank.given_up_at) < until
        )
    )
    return {blank.id: blank for blank in rows if blank.id is not None}


def _causes(session: Session, blank_ids: list[int]) -> dict[int, str]:
    """For each blank that was given up for a defect, the defect's cause."""
    found: dict[int, str] = {}
    for some in _in_pieces(blank_ids):
        rows = session.exec(
            select(Defect.blank_id, Defect.cause)
            .join(DefectDecision, col(DefectDecision.defect_id) == Defect.id)
            .where(col(Defect.blank_id).in_(some), DefectDecision.decided == DefectChoice.FIREWOOD)
        )
        found |= dict(rows.all())
    return found


def _hands(session: Session, blanks: dict[int, Blank]) -> dict[int, str]:
    """Whose work each blank was: in whose hands it is said to be, else who recorded the most steps on it."""
    names = dict(session.exec(select(Person.id, Person.name)).all())
    found = {i: names.get(blank.hands_id, NOBODY) if blank.hands_id else NOBODY for i, blank in blanks.items()}
    unsaid = [i for i, blank in blanks.items() if not blank.hands_id]
    counts: dict[int, Counter[int]] = defaultdict(Counter)
    for some in _in_pieces(unsaid):
        rows = session.exec(
            select(StepRecord.blank_id, StepRecord.by, func.count())
            .where(col(StepRecord.blank_id).in_(some))
            .group_by(col(StepRecord.blank_id), col(StepRecord.by))
        )
        for blank_id, by, count in rows:
            counts[blank_id][by] = count
    for blank_id, each in counts.items():
        # With as many steps each, the one with the lower number: the same each time.
        found[blank_id] = names.get(min(each, key=lambda by: (-each[by], by)), NOBODY)
    return found


def _found(session: Session, since: datetime, until: datetime) -> list[Share]:
    rows = session.exec(
        select(Defect.id, Defect.cause, DefectDecision.decided)
        .join(DefectDecision, col(DefectDecision.defect_id) == Defect.id, isouter=True)
        .where(Defect.at >= since, Defect.at < until)
        .order_by(col(DefectDecision.id))
    )
    last = {defect_id: (cause, decided) for defect_id, cause, decided in rows}
    counted = [(cause, decided) for cause, decided in last.values() if decided is not DefectChoice.NO_DEFECT]
    all_of = Counter(cause for cause, _ in counted)
    lost = Counter(cause for cause, decided in counted if decided is DefectChoice.FIREWOOD)
    return [Share(cause, lost[cause], count) for cause, count in all_of.most_common()]


def _in_pieces(ids: Iterable[int], size: int = 500) -> Iterable[list[int]]:
    """A database takes only so many values in one statement."""
    everything = list(ids)
    return (everything[i : i + size] for i in range(0, len(everything), size))
