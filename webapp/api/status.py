"""The customer's own page about an order: what it says, opened, given a new address, closed."""

from webapp.api.ways import Answer, Call, Way
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import rules as orders, status_page
from webapp.shop.orders.forms import Version
from webapp.shop.people.tokens import Scope


def show(call: Call) -> Answer:
    order = orders.order_of(call.session, call.number("number"))
    says = status_page.seen(call.session, order)
    return Answer(
        {
            "open": order.status_digest is not None,
            "since": plain(order.status_since),
            "says": {
                "status": str(says.status),
                "promised": plain(says.promised),
                "pieces": [{"words": one.words, "stages_behind": one.behind} for one in says.pieces],
            },
        },
        order.version,
    )


def open_page(call: Call) -> Answer:
    """The address is in this answer alone."""
    number = call.number("number")
    secret = status_page.open_page(call.session, call.who, number, call.asked(Version).version)
    order = orders.order_of(call.session, number)
    return Answer({"address": call.address(f"/status/{secret}")}, order.version, secret=True)


def close_page(call: Call) -> Answer:
    status_page.close_page(call.session, call.who, call.number("number"), call.asked(Version).version)
    return show(call)


_PAGE = "/orders/{number}/status-page"
_ONE = "/orders/{number:int}/status-page"
O = Scope.OFFICE  # noqa: E741
WAYS = [
    Way("GET", _ONE, "Whether the customer's page is open, and what it says", show, shows="status", does=(_PAGE,)),
    Way(
        "POST",
        _ONE,
        "Open the customer's page, or give it a new address; it is told this once",
        open_page,
        O,
        Version,
        "address",
        does=(_PAGE,),
        secret=True,
    ),
    Way(
        "POST",
        _ONE + "/close",
        "Close it: its address leads nowhere",
        close_page,
        O,
        Version,
        "status",
        does=(_PAGE + "/close",),
    ),
]
