"""The customer's own page about an order: what it says, opened, given a new address, closed."""

from datetime import date, datetime

from pydantic import Field
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Call, Change, Look
from webapp.api.frame.rows import Shown
from webapp.api.frame.ways import OFFICE, way
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import rules as orders, status_page
from webapp.shop.orders.forms import Version


class PieceShown(Shown):
    """A flute or a repair: where it stands, and how many stages lie behind it."""

    words: str
    stages_behind: int


class SaysShown(Shown):
    """What the customer's page says; `contact` is the lines under the shop's name on its papers."""

    shop: str
    contact: list[str]
    number: int
    status: str
    promised: date | None
    pieces: list[PieceShown]
    before: int | None = Field(description="Orders before it in line, where the shop shows that")


class StatusPageShown(Shown):
    """Whether the page is open, since when, and what it says."""

    open: bool
    since: datetime | None
    says: SaysShown


class AddressShown(Shown):
    """The address of the customer's page; it stands in this answer alone."""

    address: str


router = ways.router("status")


@router.get(
    "/orders/{number:int}/status-page",
    **way(
        "Whether the customer's page is open, and what it says", "/orders/{number}/status-page", shows=StatusPageShown
    ),
)
def show(call: Look, number: int) -> Response:
    return _shown(call, number)


@router.post(
    "/orders/{number:int}/status-page",
    **way(
        "Open the customer's page, or give it a new address; it is told this once",
        "/orders/{number}/status-page",
        scope=OFFICE,
        shows=AddressShown,
        secret=True,
    ),
)
def open_page(call: Change, number: int, asked: Version) -> Response:
    """The address is in this answer alone."""
    secret = status_page.open_page(call.session, call.who, number, asked.version)
    order = orders.order_of(call.session, number)
    return call.answer({"address": call.address(f"/status/{secret}")}, order.version, secret=True)


@router.post(
    "/orders/{number:int}/status-page/close",
    **way(
        "Close it: its address leads nowhere", "/orders/{number}/status-page/close", scope=OFFICE, shows=StatusPageShown
    ),
)
def close_page(call: Change, number: int, asked: Version) -> Response:
    status_page.close_page(call.session, call.who, number, asked.version)
    return _shown(call, number)


def _shown(call: Call, number: int) -> Response:
    order = orders.order_of(call.session, number)
    says = status_page.seen(call.session, order)
    return call.answer(
        {
            "open": order.status_digest is not None,
            "since": plain(order.status_since),
            "says": {
                "shop": says.shop,
                "contact": list(says.contact),
                "number": says.number,
                "status": str(says.status),
                "promised": plain(says.promised),
                "pieces": [{"words": one.words, "stages_behind": one.behind} for one in says.pieces],
                "before": says.before,
            },
        },
        order.version,
    )
