"""What the shop says of a flute on its shelf: its price, and where it lies."""

from datetime import datetime
from decimal import Decimal
from typing import Annotated

from pydantic import BaseModel, StringConstraints
from sqlmodel import Session

from webapp.models import Blank, BlankStatus, ShelfFlute, Shop, now
from webapp.shop.base.errors import Refused, Stale
from webapp.shop.base.finding import find
from webapp.shop.blanks.state import by_serial, lock
from webapp.shop.orders import prices
from webapp.shop.orders.forms import Amount
from webapp.shop.people import amounts, diary
from webapp.shop.people.accounts import Who

ON_THE_SHELF = (BlankStatus.IN_WORK, BlankStatus.FINISHED)


class ShelfAsked(BaseModel):
    """Price and place as typed; `version` is the one that was on the screen, 0 before anything was said."""

    price: Amount | None = None
    place: Annotated[str, StringConstraints(max_length=80)] = ""
    version: int


def said_of(session: Session, blank: Blank) -> ShelfFlute:
    """What is said of a flute; before anything was, an unpriced one of version 0 that is not stored."""
    since = blank.finished_at or blank.opened_at
    return session.get(ShelfFlute, blank.id) or ShelfFlute(blank_id=blank.id or 0, since=since, version=0)


def is_on_the_shelf(blank: Blank) -> bool:
    """Whether it belongs to the shop: no order has it, and it did not end as firewood."""
    return blank.ordered_flute_id is None and blank.status in ON_THE_SHELF


def as_typed(said: ShelfFlute) -> dict[str, str]:
    """Price and place as the form's fields."""
    return {"price": f"{said.price}" if said.price else "", "place": said.place, "version": str(said.version)}


def change(session: Session, who: Who, serial: str, asked: ShelfAsked) -> ShelfFlute:
    """Say what a flute costs and where it lies. Raises NotAllowed, NotFound, Stale, Refused."""
    who.must_work()
    amounts.check_asked(who, asked, "shelf_flute")
    blank = lock(session, by_serial(session, serial).id or 0)
    if not is_on_the_shelf(blank):
        raise Refused(f"{blank.serial} is not on the shelf: it belongs to an order, or is {blank.status}.")
    said = said_of(session, blank)
    if asked.version != said.version:
        raise Stale(amounts.visible(who.role, "shelf_flute", as_typed(said)))
    if amounts.changes(who.role, "shelf_flute.price") and (price := asked.price or Decimal(0)) != said.price:
        currency = find(session, Shop, 1, "shop").currency
        was, is_now = (prices.money(one, currency) if one else "nothing" for one in (said.price, price))
        what = f"On the shelf, price: was {was}, is now {is_now}"
        diary.write(session, who, "blank", blank.id, what, about_money=True)
        said.price = price
    if asked.place != said.place:
        said.outlet_id = None
        lie(session, who, blank, said, asked.place)
    said.version += 1
    session.add(said)
    session.flush()
    return said


def lie(session: Session, who: Who, blank: Blank, said: ShelfFlute, place: str, at: datetime | None = None) -> None:
    """Write down where it lies from now on."""
    what = (
        f"On the shelf, place: was {said.place or 'nowhere in particular'}, is now {place or 'nowhere in particular'}"
    )
    diary.write(session, who, "blank", blank.id, what)
    said.place, said.since = place, at or now()
