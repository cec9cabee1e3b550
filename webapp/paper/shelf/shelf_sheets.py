"""Purchase list and count sheet as jobs for the press."""

from collections.abc import Callable
from decimal import Decimal

from sqlmodel import Session

from webapp.models import Shop, StockKind, Units, now
from webapp.paper.press.jobs import Job
from webapp.paper.press.measures import day_of
from webapp.paper.press.sheets import job
from webapp.shop.stock import counting
from webapp.shop.stock.lists import show_quantity
from webapp.shop.units.rough import rough_length, rough_volume
from webapp.shop.wood.plans import purchases


def purchase_job(session: Session, shop: Shop, units: Units, prices: Callable[[Decimal], str] | None) -> Job:
    """What to buy, by source; with prices where they are given a way to be written."""
    context: dict[str, object] = {
        "shop": shop,
        "day": day_of(now(), shop.timezone),
        "groups": purchases.lots_to_buy(session),
        "wood": purchases.wood_short(session),
        "share": purchases.sawing_yield(session),
        "amount": show_quantity,
        "prices": prices is not None,
        "money": prices or str,
        "measure": lambda mm: rough_length(mm, units),
        "volume": lambda mm3: rough_volume(mm3, units),
    }
    return job("to_buy.html", "stock.css", [context])


def count_job(session: Session, shop: Shop, kind: StockKind | None, words: str) -> Job:
    """A sheet to walk along the shelves with."""
    context: dict[str, object] = {
        "shop": shop,
        "day": day_of(now(), shop.timezone),
        "lots": counting.sheet(session, kind),
        "kind": words,
        "amount": show_quantity,
    }
    return job("count.html", "stock.css", [context])
