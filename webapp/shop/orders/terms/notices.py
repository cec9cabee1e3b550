"""What stands on an order until somebody deals with it: terms that are no longer as told, patterns that were dropped.

Nothing of it is stored: it is what differs from the last quote or confirmation, so that what is changed back is no
notice any more. It goes with a new paper, or once somebody says that they have seen it.
"""

import hashlib
from dataclasses import dataclass

from sqlmodel import Session, col, select

from webapp.models import (
    IssuedKind,
    IssuedPaper,
    NoticeSeen,
    Order,
    OrderedFlute,
    OrderStatus,
    Pattern,
    PatternRevision,
    Role,
)
from webapp.shop.orders import issued
from webapp.shop.orders.checks import OPEN, PROMISED
from webapp.shop.orders.terms.differences import Difference, between
from webapp.shop.people import amounts


@dataclass(frozen=True, slots=True)
class Notices:
    """What nobody has dealt with yet: `terms` differ from `paper`, `dropped` are patterns that were taken away."""

    paper: str = ""
    terms: tuple[Difference, ...] = ()
    dropped: tuple[Difference, ...] = ()
    mark: str = ""

    def __bool__(self) -> bool:
        return bool(self.terms or self.dropped)

    @property
    def all(self) -> tuple[Difference, ...]:
        return self.terms + self.dropped

    def seen_by(self, role: Role) -> tuple[Difference, ...]:
        """All of it, without amounts for those who see none."""
        if amounts.sees_money(role):
            return self.all
        said = amounts.without_amounts
        return tuple(
            Difference(one.what, before, after)
            for one in self.all
            if (before := said(one.before)) != (after := said(one.after))
        )


def of_order(session: Session, order: Order) -> Notices:
    """What stands on the order now."""
    if order.status not in OPEN:
        return Notices()
    session.flush()
    paper = _told_last(session, order)
    terms = between(paper.content, issued.content_of(session, order)) if paper else []
    dropped = _dropped(session, order)
    mark = _mark(order, paper, [*terms, *dropped])
    if (not terms and not dropped) or _was_seen(session, order, mark):
        return Notices()
    return Notices(f"{paper.kind} {paper.number}" if paper else "", tuple(terms), tuple(dropped), mark)


def _told_last(session: Session, order: Order) -> IssuedPaper | None:
    """The paper by which the customer knows the order."""
    if order.status is OrderStatus.QUOTED:
        return issued.latest(session, order, IssuedKind.QUOTE)
    return issued.latest(session, order, IssuedKind.CONFIRMATION) if order.status in PROMISED else None


def _dropped(session: Session, order: Order) -> list[Difference]:
    rows = session.exec(
        select(OrderedFlute, PatternRevision, Pattern)
        .join(PatternRevision, col(PatternRevision.id) == OrderedFlute.dropped_revision_id)
        .join(Pattern, col(Pattern.id) == PatternRevision.pattern_id)
        .where(OrderedFlute.order_id == order.id, col(OrderedFlute.revision_id).is_(None))
        .order_by(col(OrderedFlute.position), col(OrderedFlute.id))
    )
    return [
        Difference(f"Flute {flute.position}, pattern", f"{pattern.name}, revision {revision.number}", "")
        for flute, revision, pattern in rows
    ]


def _mark(order: Order, paper: IssuedPaper | None, found: list[Difference]) -> str:
    lines = [f"{paper.kind} {paper.number}" if paper else "", *(repr(one) for one in found)]
    return hashlib.sha256("\n".join([str(order.number), *lines]).encode()).hexdigest()


def _was_seen(session: Session, order: Order, mark: str) -> bool:
    statement = select(NoticeSeen.id).where(NoticeSeen.order_id == order.id, NoticeSeen.mark == mark)
    return session.exec(statement.limit(1)).first() is not None
