"""An order as the API shows it: with its flutes, its repairs, and what was paid. Who sees which of it, the table of
amounts says."""

from starlette.responses import Response

from webapp.api.frame.call import Call
from webapp.api.frame.rows import Exact, Row, many, model_from, model_of, row, row_of, rows, said
from webapp.models import Customer, Order, OrderedFlute, Payment, Repair
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import customers, lists as order_list, money as order_money, payments
from webapp.shop.orders.terms import notices
from webapp.shop.orders.terms.differences import Difference
from webapp.shop.people import diary

DiaryLine = model_from(diary.Entry, "DiaryLine")
DifferenceShown = model_from(Difference, "DifferenceShown")
FluteShown = model_of("FluteShown", OrderedFlute, blanks=list[str])
RepairShown = model_of("RepairShown", Repair, stands=str)
OrderShown = model_of(
    "OrderShown",
    Order,
    customer=row_of(Customer),
    flutes=many(FluteShown),
    repairs=many(RepairShown),
    notices=many(DifferenceShown),
    notices_mark=str,
    next=str,
    total=Exact,
    payments=many(row_of(Payment)),
    paid=Exact,
    outstanding=Exact,
)


def shown(call: Call, order: Order) -> Response:
    """The order as it stands now."""
    return call.answer(_whole(call, order), order.version)


def taken(call: Call, order: Order) -> Response:
    """An order that is new."""
    return call.answer(_whole(call, order), order.version, f"/api/v1/orders/{order.number}")


def _whole(call: Call, order: Order) -> Row:
    session = call.session
    session.refresh(order)
    flutes = order_list.flute_rows(session, order)
    repairs = order_list.repair_rows(session, order)
    account = order_money.account(session, order)
    stands = notices.of_order(session, order)
    step = order_list.next_step(order, flutes, repairs, bool(stands.terms))
    return row(
        order,
        customer=row(customers.customer(session, order.customer_id)),
        flutes=[row(one.flute, blanks=[blank.serial for blank in one.blanks]) for one in flutes],
        repairs=[row(one.repair, stands=one.stands) for one in repairs],
        notices=[said(one) for one in stands.seen_by(call.who.role)],
        notices_mark=stands.mark,
        next=step.words if step else "",
        total=plain(order_money.sums_of(session, order).total),
        payments=rows(one.payment for one in payments.of_order(session, order)),
        paid=plain(account.paid),
        outstanding=plain(account.outstanding),
    )
