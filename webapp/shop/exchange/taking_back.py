"""An import taken back: all that it made goes, all that it changed is as before, or nothing where work rests on it."""

from collections.abc import Callable
from typing import Any, Final

from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, col, select

from webapp.models import Customer, ImportDraft, Order, Pattern, PatternRevision, StockItem, StockMovement, now
from webapp.shop.base.errors import Refused
from webapp.shop.base.finding import find
from webapp.shop.orders import customers
from webapp.shop.orders.customers import FIELDS, CustomerAsked
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import Count, LotAsked
from webapp.shop.stock.lists import lot

WHY: Final = "The import was taken back"


def done_lately(session: Session, who: Who) -> list[ImportDraft]:
    """The imports of this person that can still be taken back, the newest first."""
    asked = select(ImportDraft).where(ImportDraft.person_id == who.id, col(ImportDraft.done_at).is_not(None))
    return list(session.exec(asked.order_by(col(ImportDraft.id).desc())))


def take_back(session: Session, who: Who, draft: ImportDraft) -> int:
    """Take an import back; gives how many rows that were. Raises NotAllowed, Refused (nothing was taken back)."""
    who.must_work()
    if draft.done_at is None:
        raise Refused("That table was not imported.")
    trial = session.begin_nested()
    steps = draft.undo or []
    try:
        for step in reversed(steps):
            _KINDS[step["kind"]](session, who, step)
            session.flush()
    except Refused:
        trial.rollback()
        raise
    except IntegrityError as error:
        trial.rollback()
        raise Refused("Work rests on what was imported by now, so nothing was taken back.") from error
    trial.commit()
    words = f"Import of {draft.noun} taken back: {len(steps)} {'row' if len(steps) == 1 else 'rows'}"
    diary.write(session, who, "shop", 1, words, draft.file_name)
    session.delete(draft)
    session.flush()
    return len(steps)


def _customer(session: Session, who: Who, step: dict[str, Any]) -> None:
    found = find(session, Customer, step["id"], "customer")
    if step["before"] is not None:
        back = {name: step["before"][name] for name in FIELDS}
        if any(getattr(found, name) != step["after"][name] for name in FIELDS):
            raise Refused(f"{found.name} was changed since, so nothing was taken back.")
        customers.change(session, who, step["id"], CustomerAsked(**back, version=found.version))
        return
    if session.exec(select(Order.id).where(Order.customer_id == step["id"]).limit(1)).first() is not None:
        raise Refused(f"{found.name} has an order since, so nothing was taken back.")
    session.delete(found)


def _lot(session: Session, who: Who, step: dict[str, Any]) -> None:
    """A lot that came by the import stays as an empty one: its movements are facts."""
    found = find(session, StockItem, step["id"], "lot of stock", lock=True)
    newest = select(StockMovement.id).where(StockMovement.item_id == step["id"]).order_by(col(StockMovement.id).desc())
    if session.exec(newest).first() != step["movement"] or lot(session, found).free != lot(session, found).there:
        raise Refused(f"{found.name} was used or counted since, so nothing was taken back.")
    if step["label"] is not None:
        stock.relabel(session, who, step["id"], LotAsked.model_validate(step["label"]))
    if round(lot(session, found).there - step["there"], 6):
        stock.count(session, who, step["id"], Count(counted=step["there"], why=WHY))
    if step["label"] is None:
        found.used_up = True
        session.add(found)


def _revision(session: Session, who: Who, step: dict[str, Any]) -> None:
    revision = find(session, PatternRevision, step["id"], "revision")
    pattern = find(session, Pattern, revision.pattern_id, "pattern")
    later = select(PatternRevision.id).where(
        PatternRevision.pattern_id == pattern.id, PatternRevision.number > revision.number
    )
    if session.exec(later.limit(1)).first() is not None:
        raise Refused(f"{pattern.name} has a further revision since, so nothing was taken back.")
    session.delete(revision)
    session.flush()
    if step["new"]:
        session.delete(pattern)


_KINDS: Final[dict[str, Callable[[Session, Who, dict[str, Any]], None]]] = {
    "customer": _customer,
    "lot": _lot,
    "revision": _revision,
}


def keep(draft: ImportDraft, steps: list[dict[str, Any]]) -> None:
    """What taking it back needs; the text itself is needed no more."""
    draft.done_at, draft.undo, draft.content = now(), steps, ""
