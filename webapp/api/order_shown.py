"""An order as the API shows it: with its flutes, its repairs, and what was paid for those who may see that."""

from typing import Any

from webapp.api.ways import Answer, Call, row, rows
from webapp.models import Order
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import customers, lists as order_list, money as order_money, payments
from webapp.shop.people import roles

PRICE = "/orders/{number}/flutes/{flute_id}/price"


def shown(call: Call, order: Order) -> Answer:
    """The order as it stands now."""
    session = call.session
    session.refresh(order)
    sums = order_money.sums_of(session, order)
    flutes = [
        _flute(call, row(one.flute, blanks=[blank.serial for blank in one.blanks]))
        for one in order_list.flute_rows(session, order)
    ]
    repairs = order_list.repair_rows(session, order)
    step = order_list.next_step(order, order_list.flute_rows(session, order), repairs)
    return Answer(
        row(
            order,
            customer=row(customers.customer(session, order.customer_id)),
            flutes=flutes,
            repairs=[row(one.repair, stands=one.stands) for one in repairs],
            next=step.words if step else "",
            total=plain(sums.total),
            **_money(call, order),
        ),
        order.version,
    )


def taken(call: Call, order: Order) -> Answer:
    """An order that is new."""
    made = shown(call, order)
    return Answer(made.data, order.version, f"/api/v1/orders/{order.number}")


def _flute(call: Call, found: dict[str, Any]) -> dict[str, Any]:
    """A flute without how its price was built up, costs and margin, unless this person may look at prices."""
    if roles.may(call.who.role, "GET", PRICE):
        return found
    return {name: value for name, value in found.items() if name not in ("built_up", "price_why")}


def _money(call: Call, order: Order) -> dict[str, Any]:
    """What was paid, for those who may look at payments."""
    if not roles.may(call.who.role, "GET", "/payments"):
        return {}
    paid = rows(one.payment for one in payments.of_order(call.session, order))
    return {"payments": paid, "paid": plain(payments.paid(call.session, order))}
