"""Orders: their flutes, repairs, payments and promised dates, and what is done with them."""

from typing import Any

from webapp.api.ways import Answer, Call, Way, paged, row, rows
from webapp.models import Order, OrderStatus
from webapp.shop import (
    customers,
    order_list,
    order_money,
    ordered_flutes,
    orders,
    payments,
    promise,
    repairs,
    roles,
)
from webapp.shop.exporting import plain
from webapp.shop.order_forms import (
    ChangeFlute,
    ChangeOrder,
    ChoosePattern,
    FurtherFlutes,
    LeaveOut,
    TakeOrder,
    Version,
    Withdraw,
)
from webapp.shop.payments import PaymentAsked, PutRight
from webapp.shop.promise import AcceptDate, Dates
from webapp.shop.repairs import ChangeRepair, Found, FurtherRepair, TakeRepair
from webapp.shop.tokens import Scope

SHOW = ["open", "due", "ready", *OrderStatus, "all"]


class FlutesAsked(FurtherFlutes):
    """Further flutes; `version` is that of the order as it was seen."""

    version: int


def find(call: Call) -> Answer:
    show = call.choice("show", [str(word) for word in SHOW], "open")
    today = orders.today(call.session)
    found, more = order_list.listed(call.session, show, today, call.page, call.query_id("customer"))
    items = [row(one.order, customer=one.customer.name, keys=one.keys, total=plain(one.total)) for one in found]
    return paged(items, call.page, more)


def show(call: Call) -> Answer:
    return _shown(call, orders.order_of(call.session, call.number("number")))


def take(call: Call) -> Answer:
    return _taken(call, orders.take_order(call.session, call.who, call.asked(TakeOrder)))


def take_repair(call: Call) -> Answer:
    return _taken(call, repairs.take(call.session, call.who, call.asked(TakeRepair)))


def change(call: Call) -> Answer:
    return _shown(call, orders.change_order(call.session, call.who, call.number("number"), call.asked(ChangeOrder)))


def quote(call: Call) -> Answer:
    return _shown(call, orders.quote(call.session, call.who, call.number("number"), call.asked(Version).version))


def confirm(call: Call) -> Answer:
    return _shown(call, orders.confirm(call.session, call.who, call.number("number"), call.asked(Version).version))


def confirm_again(call: Call) -> Answer:
    number, version = call.number("number"), call.asked(Version).version
    return _shown(call, orders.confirm_again(call.session, call.who, number, version))


def withdraw(call: Call) -> Answer:
    return _shown(call, orders.withdraw(call.session, call.who, call.number("number"), call.asked(Withdraw)))


def hand_over(call: Call) -> Answer:
    return _shown(call, orders.hand_over(call.session, call.who, call.number("number"), call.asked(Version).version))


def add_flutes(call: Call) -> Answer:
    asked = call.asked(FlutesAsked)
    further = FurtherFlutes.model_construct(**asked.model_dump(exclude={"version"}))
    return _shown(call, orders.add_flutes(call.session, call.who, call.number("number"), further, asked.version))


def change_flute(call: Call) -> Answer:
    number, flute = call.number("number"), call.number("flute")
    ordered_flutes.change_flute(call.session, call.who, number, flute, call.asked(ChangeFlute))
    return show(call)


def leave_out(call: Call) -> Answer:
    asked = call.asked(LeaveOut)
    number, flute = call.number("number"), call.number("flute")
    ordered_flutes.leave_out(call.session, call.who, number, flute, asked.version, asked.why)
    return show(call)


def choose_pattern(call: Call) -> Answer:
    asked = call.asked(ChoosePattern)
    number, flute = call.number("number"), call.number("flute")
    ordered_flutes.choose_pattern(call.session, call.who, number, flute, asked.revision_id, asked.version)
    return show(call)


def pay(call: Call) -> Answer:
    made = payments.record(call.session, call.who, call.number("number"), call.asked(PaymentAsked))
    return Answer(row(made), location=f"/api/v1/orders/{call.number('number')}")


def put_right(call: Call) -> Answer:
    number, payment = call.number("number"), call.number("payment")
    made = payments.put_right(call.session, call.who, number, payment, call.asked(PutRight))
    return Answer(row(made), location=f"/api/v1/orders/{number}")


def add_repair(call: Call) -> Answer:
    return _shown(call, repairs.add(call.session, call.who, call.number("number"), call.asked(FurtherRepair)))


def change_repair(call: Call) -> Answer:
    number, repair = call.number("number"), call.number("repair")
    return Answer(row(repairs.change(call.session, call.who, number, repair, call.asked(ChangeRepair))))


def begin_repair(call: Call) -> Answer:
    number, repair = call.number("number"), call.number("repair")
    return Answer(row(repairs.begin(call.session, call.who, number, repair, call.asked(Version).version)))


def found_repair(call: Call) -> Answer:
    number, repair = call.number("number"), call.number("repair")
    return Answer(row(repairs.write_found(call.session, call.who, number, repair, call.asked(Found))))


def dates(call: Call) -> Answer:
    order = orders.order_of(call.session, call.number("number"))
    last = promise.last(call.session, order)
    return Answer(
        {"dates": shown_dates(promise.of_order(call.session, order)), "promised": row(last) if last else None},
        order.version,
    )


def promise_date(call: Call) -> Answer:
    made = promise.accept(call.session, call.who, call.number("number"), call.asked(AcceptDate))
    return Answer(row(made), location=f"/api/v1/orders/{call.number('number')}/promise")


def shown_dates(found: Dates | None) -> dict[str, Any] | None:
    """Dates as JSON; None before they were reckoned."""
    if found is None:
        return None
    help_ = [{"what": one.kind, "words": one.words, "days": one.days} for one in found.help]
    days = {name: plain(getattr(found, name)) for name in ("earliest", "likely", "safe")}
    return days | {"on_time": found.on_time, "help": help_}


def _taken(call: Call, order: Order) -> Answer:
    shown = _shown(call, order)
    return Answer(shown.data, order.version, f"/api/v1/orders/{order.number}")


def _shown(call: Call, order: Order) -> Answer:
    session = call.session
    session.refresh(order)
    sums = order_money.sums_of(session, order)
    flutes = [
        _flute(call, row(one.flute, blanks=[blank.serial for blank in one.blanks]))
        for one in order_list.flute_rows(session, order)
    ]
    return Answer(
        row(
            order,
            customer=row(customers.customer(session, order.customer_id)),
            flutes=flutes,
            repairs=rows(one.repair for one in order_list.repair_rows(session, order)),
            total=plain(sums.total),
            **_money(call, order),
        ),
        order.version,
    )


def _flute(call: Call, shown: dict[str, Any]) -> dict[str, Any]:
    """A flute without how its price was built up, costs and margin, unless this person may look at prices."""
    if roles.may(call.who.role, "GET", _PRICES):
        return shown
    return {name: value for name, value in shown.items() if name not in ("built_up", "price_why")}


def _money(call: Call, order: Order) -> dict[str, Any]:
    """What was paid, for those who may look at payments."""
    if not roles.may(call.who.role, "GET", "/payments"):
        return {}
    paid = rows(one.payment for one in payments.of_order(call.session, order))
    return {"payments": paid, "paid": plain(payments.paid(call.session, order))}


# The page of a flute's price, as the table of roles names it.
_PRICES = "/orders/{number}/flutes/{flute_id}/price"
_ONE = "/orders/{number:int}"
_FLUTE = _ONE + "/flutes/{flute:int}"
_REPAIR = _ONE + "/repairs/{repair:int}"
WAYS = [
    Way(
        "GET",
        "/orders",
        "Orders",
        find,
        shows="customer_order",
        listed=True,
        query={"show": f"one of {', '.join(SHOW)}", "customer": "a customer's id"},
    ),
    Way("GET", _ONE, "One order, with its flutes, repairs and payments", show, shows="customer_order"),
    Way("POST", "/orders", "Take an order", take, Scope.OFFICE, TakeOrder, "customer_order"),
    Way(
        "POST", "/orders/repair", "Take an order for a repair", take_repair, Scope.OFFICE, TakeRepair, "customer_order"
    ),
    Way(
        "PATCH",
        _ONE,
        "Change an order's date, note, postage or deposit",
        change,
        Scope.OFFICE,
        ChangeOrder,
        "customer_order",
    ),
    Way("POST", _ONE + "/quote", "Give out a quote", quote, Scope.OFFICE, Version, "customer_order"),
    Way("POST", _ONE + "/confirm", "Confirm", confirm, Scope.OFFICE, Version, "customer_order"),
    Way(
        "POST",
        _ONE + "/confirm-again",
        "Give out a confirmation of what changed",
        confirm_again,
        Scope.OFFICE,
        Version,
        "customer_order",
    ),
    Way("POST", _ONE + "/withdraw", "Withdraw", withdraw, Scope.OFFICE, Withdraw, "customer_order"),
    Way("POST", _ONE + "/hand-over", "Hand over", hand_over, Scope.OFFICE, Version, "customer_order"),
    Way("POST", _ONE + "/flutes", "Add flutes", add_flutes, Scope.OFFICE, FlutesAsked, "customer_order"),
    Way("PUT", _FLUTE, "Change a flute", change_flute, Scope.OFFICE, ChangeFlute, "customer_order"),
    Way("POST", _FLUTE + "/leave-out", "Leave a flute out", leave_out, Scope.OFFICE, LeaveOut, "customer_order"),
    Way(
        "POST",
        _FLUTE + "/pattern",
        "Choose the revision a flute is built from",
        choose_pattern,
        Scope.WORK,
        ChoosePattern,
        "customer_order",
    ),
    Way("POST", _ONE + "/payments", "Record a payment", pay, Scope.OFFICE, PaymentAsked, "payment"),
    Way(
        "POST",
        _ONE + "/payments/{payment:int}/put-right",
        "Put a payment right",
        put_right,
        Scope.OFFICE,
        PutRight,
        "payment",
    ),
    Way("POST", _ONE + "/repairs", "Add a repair", add_repair, Scope.OFFICE, FurtherRepair, "customer_order"),
    Way("PUT", _REPAIR, "Change a repair", change_repair, Scope.OFFICE, ChangeRepair, "repair"),
    Way("POST", _REPAIR + "/begin", "The flute came in: to the rack", begin_repair, Scope.WORK, Version, "repair"),
    Way("PUT", _REPAIR + "/found", "What was found and done", found_repair, Scope.WORK, Found, "repair"),
    Way(
        "GET",
        _ONE + "/promise",
        "Earliest, likely and safe day, what would help, what was promised",
        dates,
        shows="dates",
    ),
    Way("POST", _ONE + "/promise", "Promise a day", promise_date, Scope.OFFICE, AcceptDate, "promise"),
]
