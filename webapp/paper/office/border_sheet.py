"""A sheet to fill in a customs form or a plant health form from: no form itself, and no advice."""

from dataclasses import dataclass

from sqlmodel import Session

from webapp.models import Order, Paper, Shop, Units
from webapp.paper.press import measures
from webapp.paper.press.jobs import Job
from webapp.paper.press.sheets import job
from webapp.shop.base.finding import find
from webapp.shop.orders import checks as order_checks
from webapp.shop.orders.price_customs import customs
from webapp.shop.parcels import border, rules as parcels
from webapp.shop.parcels.border import Piece
from webapp.shop.units.weights import show_weight


@dataclass(frozen=True, slots=True)
class BorderSheet:
    """Everything on the sheet. Weights are as they read; an empty one is to be weighed."""

    shop: str
    letterhead: str
    is_demo: bool
    paper: Paper
    order: int
    day: str
    name: str
    address: str
    country: str
    pieces: tuple[tuple[Piece, str], ...]
    packed: str
    to_check: tuple[str, ...]


def border_sheet(session: Session, order: Order, units: Units) -> BorderSheet:
    """The sheet of one order. Raises NotFound before a flute of it is finished."""
    shop = find(session, Shop, 1, "shop")
    parcel = parcels.of_order(session, order)
    name, address = parcels.to_whom(session, order)
    pieces = border.pieces_of(session, order)
    return BorderSheet(
        shop=shop.name,
        letterhead=customs(session).pricing.letterhead,
        is_demo=shop.is_demo,
        paper=shop.paper,
        order=order.number,
        day=measures.day(order_checks.today(session)),
        name=name,
        address=address,
        country=parcels.country_name(parcel.country),
        pieces=tuple((one, show_weight(one.weight, units) if one.weight else "") for one in pieces),
        packed=show_weight(parcel.weight, units) if parcel.weight else "",
        to_check=border.TO_CHECK,
    )


def border_job(sheet: BorderSheet) -> Job:
    """As many pages as the flutes take."""
    return job("border.html", "letter.css", [{"s": sheet, "density": density} for density in ("", "close")], 1)
