"""Ways back from what was recorded of a blank by mistake: given up, opened. Each is a further entry of its diary."""

from typing import Annotated

from pydantic import BaseModel, StringConstraints
from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    BlankStatus,
    Cut,
    GluedBlank,
    OrderStatus,
    Reading,
    Shop,
    StepRecord,
)
from webapp.shop.base.errors import Refused
from webapp.shop.base.finding import find
from webapp.shop.blanks.state import counted, lock, records_of, settle
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.production.opening import HALVES_PER_BLANK, lock_with_order, order_of
from webapp.shop.stock import rules as stock

FREED = "~"  # before the number of a row whose serial was given back


class Undo(BaseModel):
    """Why the entry was wrong."""

    why: Annotated[str, StringConstraints(min_length=1, max_length=300)]


def back_to_work(session: Session, who: Who, blank_id: int, asked: Undo) -> Blank:
    """A blank that was given up is no firewood after all: it goes on where it was.

    Halves that were only reserved are reserved again where they are still free. One that was in clamps counts as taken
    out. Raises NotAllowed, NotFound, Refused.
    """
    who.must_work()
    blank = lock(session, blank_id)
    if blank.status is not BlankStatus.FIREWOOD:
        raise Refused(f"{blank.serial} is {blank.status}, not firewood.")
    blank.status, blank.given_up_at = BlankStatus.IN_WORK, None
    order = order_of(session, blank)
    if order and order.status not in (OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP):
        words = f"{blank.serial} is no firewood after all; order {order.number} goes on without it"
        diary.write(session, who, "order", order.id, words, asked.why)
        blank.ordered_flute_id = blank.due_on = None
        order = None
    if blank.item_id is not None and not counted(records_of(session, blank_id)):
        stock.reserve(session, who, blank.item_id, blank_id, HALVES_PER_BLANK)
    settle(session, blank)
    diary.write(session, who, "blank", blank.id, "No firewood after all: back in work", asked.why)
    if order:
        words = f"{blank.serial} is no firewood after all: it is made for this order again"
        diary.write(session, who, "order", order.id, words, asked.why)
    session.flush()
    return blank


def opened_by_mistake(session: Session, who: Who, blank_id: int, asked: Undo) -> Blank:
    """A blank that nobody has worked at yet was opened by mistake: its halves, its order and its serial are free again.

    The serial is given to the next blank where no later one was opened since; its row stays, under a mark.
    Raises NotAllowed, NotFound, Refused.
    """
    who.must_work()
    blank = lock_with_order(session, blank_id)
    if blank.status is not BlankStatus.IN_WORK:
        raise Refused(f"{blank.serial} is {blank.status}: only a blank in work can have been opened by mistake.")
    if _was_worked_at(session, blank_id):
        raise Refused(f"{blank.serial} was worked at: take those entries back first, or give it up as firewood.")
    serial = blank.serial
    stock.give_back(session, who, blank_id, asked.why)
    if order := order_of(session, blank):
        diary.write(session, who, "order", order.id, f"{serial} was opened by mistake", asked.why)
    blank.status = BlankStatus.MISTAKE
    blank.ordered_flute_id = blank.due_on = None
    settle(session, blank)
    diary.write(session, who, "blank", blank.id, f"Opened by mistake as {serial}", asked.why)
    shop = find(session, Shop, 1, "shop", lock=True)
    last = f"{shop.serial_prefix}{shop.next_serial - 1:04d}"
    if serial == last:
        blank.serial = f"{serial}{FREED}{blank.id}"[:20]
        shop.next_serial -= 1
        session.add(shop)
    session.add(blank)
    session.flush()
    return blank


def _was_worked_at(session: Session, blank_id: int) -> bool:
    """Whether anything was recorded of it that still counts."""
    if counted(list(session.exec(select(StepRecord).where(StepRecord.blank_id == blank_id)))):
        return True
    return any(
        session.exec(select(table).where(col(table.blank_id) == blank_id).limit(1)).first() is not None
        for table in (Reading, Cut, GluedBlank)
    )
