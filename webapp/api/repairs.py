"""Repairs, retuning and checks: orders on a flute that exists."""

from webapp.api.order_shown import shown, taken
from webapp.api.ways import Answer, Call, Way, row
from webapp.shop.orders import rules as orders
from webapp.shop.orders.forms import LeaveOut, Version
from webapp.shop.people.tokens import Scope
from webapp.shop.production import repairs
from webapp.shop.production.repairs import ChangeRepair, Found, FurtherRepair, TakeRepair


def take(call: Call) -> Answer:
    return taken(call, repairs.take(call.session, call.who, call.asked(TakeRepair)))


def add(call: Call) -> Answer:
    return shown(call, repairs.add(call.session, call.who, call.number("number"), call.asked(FurtherRepair)))


def show(call: Call) -> Answer:
    order = orders.order_of(call.session, call.number("number"))
    return Answer(row(repairs.repair_of(call.session, order, call.number("repair"))), order.version)


def change(call: Call) -> Answer:
    number, repair = call.number("number"), call.number("repair")
    return Answer(row(repairs.change(call.session, call.who, number, repair, call.asked(ChangeRepair))))


def leave_out(call: Call) -> Answer:
    asked, number = call.asked(LeaveOut), call.number("number")
    repairs.leave_out(call.session, call.who, number, call.number("repair"), asked.version, asked.why)
    return shown(call, orders.order_of(call.session, number))


def begin(call: Call) -> Answer:
    number, repair = call.number("number"), call.number("repair")
    return Answer(row(repairs.begin(call.session, call.who, number, repair, call.asked(Version).version)))


def write_found(call: Call) -> Answer:
    number, repair = call.number("number"), call.number("repair")
    return Answer(row(repairs.write_found(call.session, call.who, number, repair, call.asked(Found))))


_ALL = "/orders/{number:int}/repairs"
_ONE = _ALL + "/{repair:int}"
_PAGE = "/orders/{number}/repairs/{repair_id}"
_ORDER = "customer_order"
O, W = Scope.OFFICE, Scope.WORK  # noqa: E741
WAYS = [
    Way("POST", "/orders/repair", "Take an order for a repair", take, O, TakeRepair, _ORDER, does=("/orders/repair",)),
    Way("POST", _ALL, "Add a repair", add, O, FurtherRepair, _ORDER, does=("/orders/{number}/repairs/new",)),
    Way("GET", _ONE, "One repair", show, shows="repair", does=(_PAGE,)),
    Way("PUT", _ONE, "Change a repair", change, O, ChangeRepair, "repair", does=(_PAGE,)),
    Way(
        "POST", _ONE + "/leave-out", "Leave a repair out", leave_out, O, LeaveOut, _ORDER, does=(_PAGE + "/leave-out",)
    ),
    Way(
        "POST", _ONE + "/begin", "The flute came in: to the rack", begin, W, Version, "repair", does=(_PAGE + "/begin",)
    ),
    Way("PUT", _ONE + "/found", "What was found and done", write_found, W, Found, "repair", does=(_PAGE + "/found",)),
]
