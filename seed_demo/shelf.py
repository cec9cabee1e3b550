"""The demo's shelf: what its flutes cost and where they lie, an outlet that sold one, and the flutes' own pages."""

from datetime import datetime, timedelta
from decimal import Decimal

from sqlmodel import Session

from webapp.models import at
from webapp.shop.flute_pages import rules as flute_pages
from webapp.shop.flute_pages.rules import FlutePagesAsked
from webapp.shop.people.accounts import Who
from webapp.shop.shelf import lists as shelf_list, outlets, rules as shelf, sales
from webapp.shop.shelf.lists import Which
from webapp.shop.shelf.outlets import Bring, OutletAsked
from webapp.shop.shelf.rules import ShelfAsked
from webapp.shop.shelf.sales import SellAsked

PRICES = (("345.00", "front window"), ("395.00", "cabinet, second board"), ("365.00", ""))


def fill(session: Session, owner: Who, today: datetime) -> None:
    """Price what is finished; open the pages with the words that every shop begins with."""
    with at(today - timedelta(hours=3)):
        rows, _ = shelf_list.listed(session, Which.FINISHED)
        for row, (price, place) in zip(rows, PRICES, strict=False):
            asked = ShelfAsked(price=Decimal(price), place=place, version=row.said.version)
            shelf.change(session, owner, row.seen.blank.serial, asked)
        begun = flute_pages.settings(session)
        asked_of_pages = FlutePagesAsked(
            is_open=True, warranty=begun.warranty, finish_care=begun.finish_care, version=begun.version
        )
        flute_pages.change(session, owner, asked_of_pages)
        where = outlets.save(session, owner, None, OutletAsked(name="Pier House Gallery", keeps_percent=Decimal("35")))
        for row in rows[1:2]:
            outlets.bring(session, owner, where.id or 0, Bring(serial=row.seen.blank.serial))
            sales.sell(session, owner, SellAsked(serial=row.seen.blank.serial, outlet_id=where.id))
