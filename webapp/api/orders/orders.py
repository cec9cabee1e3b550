"""Orders: taken, quoted, confirmed, changed, handed over or withdrawn; what was changed, and who did what."""

from typing import Annotated, Any, Literal

from fastapi import Query
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Change, Look
from webapp.api.frame.fields import Id, Page
from webapp.api.frame.rows import Exact, listed, model_from, model_of, paged, row, said
from webapp.api.frame.ways import OFFICE, way
from webapp.api.orders.order_shown import DiaryLine, OrderShown, shown, taken
from webapp.models import Order, OrderStatus, Role
from webapp.shop.billing import unpaid
from webapp.shop.contacts import enquiries
from webapp.shop.contacts.enquiries import NoteEnquiry
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import changes as order_changes, lists as order_list, rules as orders
from webapp.shop.orders.forms import ChangeOrder, HandOver, SeenNotice, TakeOrder, Version, Withdraw
from webapp.shop.people import diary

UNPAID = "unpaid"
SHOW = ("open", "due", "ready", *(str(one) for one in OrderStatus), UNPAID, "all")

Show: Any = Literal[SHOW]
OrderFound = model_of("OrderFound", Order, customer=str, keys=str, total=Exact, late=bool, outstanding=Exact)
ChangeShown = model_from(order_changes.Change, "ChangeShown")

router = ways.router("orders")


@router.get("/orders", **way("Orders", "/orders", shows=paged(OrderFound)))
def find(
    call: Look,
    show: Annotated[Show, Query(description="which of them")] = "open",
    customer: Annotated[Id | None, Query(description="a customer's id")] = None,
    page: Page = 1,
) -> Response:
    """What is outstanding stands only in the list of those that are not paid in full."""
    today = orders.today(call.session)
    owed = None
    if show == UNPAID:
        call.who.must(Role.OFFICE)
        owed = unpaid.unpaid(call.session)
    found, more = order_list.listed(call.session, show, today, page, customer, owed)
    items = [
        row(one.order, customer=one.customer.name, keys=one.keys, total=plain(one.total), late=one.late(today))
        | ({} if owed is None else {"outstanding": plain(owed[one.order.id or 0])})
        for one in found
    ]
    return call.page(items, page, more)


@router.get(
    "/orders/{number:int}",
    **way("One order, with its flutes, repairs and payments", "/orders/{number}", shows=OrderShown),
)
def show(call: Look, number: int) -> Response:
    return shown(call, orders.order_of(call.session, number))


@router.post(
    "/enquiries",
    **way("Note an enquiry whose key or wood is open", "/orders/new", scope=OFFICE, shows=OrderShown, status=201),
)
def note(call: Change, asked: NoteEnquiry) -> Response:
    return taken(call, enquiries.note(call.session, call.who, asked))


@router.post("/orders", **way("Take an order", "/orders/new", scope=OFFICE, shows=OrderShown, status=201))
def take(call: Change, asked: TakeOrder) -> Response:
    return taken(call, orders.take_order(call.session, call.who, asked))


@router.patch(
    "/orders/{number:int}",
    **way(
        "Change an order's date, note, postage, deposit or tax status",
        "/orders/{number}/edit",
        scope=OFFICE,
        shows=OrderShown,
    ),
)
def change(call: Change, number: int, asked: ChangeOrder) -> Response:
    return shown(call, orders.change_order(call.session, call.who, number, asked))


@router.post(
    "/orders/{number:int}/quote",
    **way("Give out a quote", "/orders/{number}/quote", scope=OFFICE, shows=OrderShown),
)
def quote(call: Change, number: int, asked: Version) -> Response:
    return shown(call, orders.quote(call.session, call.who, number, asked.version))


@router.post(
    "/orders/{number:int}/confirm", **way("Confirm", "/orders/{number}/confirm", scope=OFFICE, shows=OrderShown)
)
def confirm(call: Change, number: int, asked: Version) -> Response:
    return shown(call, orders.confirm(call.session, call.who, number, asked.version))


@router.post(
    "/orders/{number:int}/confirm-again",
    **way("Give out a confirmation of what changed", "/orders/{number}/confirmation", scope=OFFICE, shows=OrderShown),
)
def confirm_again(call: Change, number: int, asked: Version) -> Response:
    return shown(call, orders.confirm_again(call.session, call.who, number, asked.version))


@router.post(
    "/orders/{number:int}/seen",
    **way(
        "What stands on the order as a notice was seen, and is left as it is",
        "/orders/{number}/{move}",
        scope=OFFICE,
        shows=OrderShown,
    ),
)
def seen(call: Change, number: int, asked: SeenNotice) -> Response:
    """`mark` is the order's `notices_mark` as it was seen."""
    return shown(call, orders.seen(call.session, call.who, number, asked))


@router.post(
    "/orders/{number:int}/withdraw", **way("Withdraw", "/orders/{number}/{move}", scope=OFFICE, shows=OrderShown)
)
def withdraw(call: Change, number: int, asked: Withdraw) -> Response:
    return shown(call, orders.withdraw(call.session, call.who, number, asked))


@router.post(
    "/orders/{number:int}/hand-over", **way("Hand over", "/orders/{number}/{move}", scope=OFFICE, shows=OrderShown)
)
def hand_over(call: Change, number: int, asked: HandOver) -> Response:
    """Where something is outstanding, `unpaid` has to say that it is handed over all the same."""
    return shown(call, orders.hand_over(call.session, call.who, number, asked.version, asked.unpaid))


@router.post(
    "/orders/{number:int}/not-handed-over",
    **way("Put a hand-over right: ready again", "/orders/{number}/{move}", scope=OFFICE, shows=OrderShown),
)
def not_handed_over(call: Change, number: int, asked: Withdraw) -> Response:
    return shown(call, orders.not_handed_over(call.session, call.who, number, asked))


@router.get(
    "/orders/{number:int}/changes",
    **way(
        "What changed since it was confirmed, and whether the customer was told",
        "/orders/{number}",
        shows=listed(ChangeShown),
    ),
)
def changes(call: Look, number: int) -> Response:
    order = orders.order_of(call.session, number)
    return call.answer({"items": [said(one) for one in order_changes.read(call.session, call.who, order)]})


@router.get("/orders/{number:int}/diary", **way("Who did what", "/orders/{number}", shows=listed(DiaryLine)))
def history(call: Look, number: int) -> Response:
    order = orders.order_of(call.session, number)
    lines = diary.read(call.session, call.who, "order", order.id)
    return call.answer({"items": [said(one) for one in lines]})
