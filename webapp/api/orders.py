"""Orders: taken, quoted, confirmed, changed, handed over or withdrawn; what was changed, and who did what."""

from dataclasses import asdict

from webapp.api.order_shown import shown, taken
from webapp.api.ways import Answer, Call, Way, paged, row
from webapp.models import OrderStatus
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import changes as order_changes, lists as order_list, rules as orders
from webapp.shop.orders.forms import ChangeOrder, TakeOrder, Version, Withdraw
from webapp.shop.people import diary
from webapp.shop.people.tokens import Scope

SHOW = ["open", "due", "ready", *OrderStatus, "all"]


def find(call: Call) -> Answer:
    show = call.choice("show", [str(word) for word in SHOW], "open")
    today = orders.today(call.session)
    found, more = order_list.listed(call.session, show, today, call.page, call.query_id("customer"))
    items = [
        row(one.order, customer=one.customer.name, keys=one.keys, total=plain(one.total), late=one.late(today))
        for one in found
    ]
    return paged(items, call.page, more)


def show(call: Call) -> Answer:
    return shown(call, orders.order_of(call.session, call.number("number")))


def take(call: Call) -> Answer:
    return taken(call, orders.take_order(call.session, call.who, call.asked(TakeOrder)))


def change(call: Call) -> Answer:
    return shown(call, orders.change_order(call.session, call.who, call.number("number"), call.asked(ChangeOrder)))


def quote(call: Call) -> Answer:
    return shown(call, orders.quote(call.session, call.who, call.number("number"), call.asked(Version).version))


def confirm(call: Call) -> Answer:
    return shown(call, orders.confirm(call.session, call.who, call.number("number"), call.asked(Version).version))


def confirm_again(call: Call) -> Answer:
    number, version = call.number("number"), call.asked(Version).version
    return shown(call, orders.confirm_again(call.session, call.who, number, version))


def withdraw(call: Call) -> Answer:
    return shown(call, orders.withdraw(call.session, call.who, call.number("number"), call.asked(Withdraw)))


def hand_over(call: Call) -> Answer:
    return shown(call, orders.hand_over(call.session, call.who, call.number("number"), call.asked(Version).version))


def changes(call: Call) -> Answer:
    order = orders.order_of(call.session, call.number("number"))
    return Answer(
        {
            "items": [
                {name: plain(value) for name, value in asdict(one).items()}
                for one in order_changes.read(call.session, order)
            ]
        }
    )


def history(call: Call) -> Answer:
    order = orders.order_of(call.session, call.number("number"))
    lines = diary.read(call.session, "order", order.id)
    return Answer({"items": [asdict(one) | {"at": plain(one.at)} for one in lines]})


_ONE = "/orders/{number:int}"
_PAGE = "/orders/{number}"
_MOVE = "/orders/{number}/{move}"
_ROW = "customer_order"
O = Scope.OFFICE  # noqa: E741
WAYS = [
    Way(
        "GET",
        "/orders",
        "Orders",
        find,
        shows=_ROW,
        listed=True,
        query={"show": f"one of {', '.join(SHOW)}", "customer": "a customer's id"},
        does=("/orders",),
    ),
    Way("GET", _ONE, "One order, with its flutes, repairs and payments", show, shows=_ROW, does=(_PAGE,)),
    Way("POST", "/orders", "Take an order", take, O, TakeOrder, _ROW, does=("/orders/new",)),
    Way(
        "PATCH",
        _ONE,
        "Change an order's date, note, postage or deposit",
        change,
        O,
        ChangeOrder,
        _ROW,
        does=("/orders/{number}/edit",),
    ),
    Way("POST", _ONE + "/quote", "Give out a quote", quote, O, Version, _ROW, does=(_MOVE,)),
    Way("POST", _ONE + "/confirm", "Confirm", confirm, O, Version, _ROW, does=(_MOVE,)),
    Way(
        "POST",
        _ONE + "/confirm-again",
        "Give out a confirmation of what changed",
        confirm_again,
        O,
        Version,
        _ROW,
        does=(_MOVE,),
    ),
    Way("POST", _ONE + "/withdraw", "Withdraw", withdraw, O, Withdraw, _ROW, does=(_MOVE,)),
    Way("POST", _ONE + "/hand-over", "Hand over", hand_over, O, Version, _ROW, does=(_MOVE,)),
    Way(
        "GET",
        _ONE + "/changes",
        "What changed since it was confirmed, and whether the customer was told",
        changes,
        shows="change",
        listed=True,
        does=(_PAGE,),
    ),
    Way("GET", _ONE + "/diary", "Who did what", history, shows="line", listed=True, does=(_PAGE,)),
]
