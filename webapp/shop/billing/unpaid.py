"""Orders that somebody still owes something for: agreed or handed over, and not paid in full."""

from decimal import Decimal
from typing import Any, Final

import sqlalchemy as sa
from sqlmodel import Session, col, select

from webapp.models import Order, OrderedFlute, OrderStatus, Payment, Repair, TaxStatus
from webapp.shop.orders import prices
from webapp.shop.orders.checks import PROMISED
from webapp.shop.orders.money import tax_of
from webapp.shop.orders.prices import Tax

OWING = (*PROMISED, OrderStatus.HANDED_OVER)
_FLOAT: Final = sa.Float()


def unpaid(session: Session) -> dict[int, Decimal]:
    """What is outstanding for each order that owes something, by its id.

    The database looks for them with floats, which is enough to leave out those that are paid; what is outstanding is
    then calculated exactly.
    """
    orders = session.exec(select(Order).where(col(Order.status).in_(OWING), _roughly_owes()).order_by(col(Order.id)))
    owing = {order.id or 0: order for order in orders}
    lines: dict[int, list[Decimal]] = {order_id: [] for order_id in owing}
    flutes = select(OrderedFlute).where(col(OrderedFlute.order_id).in_(owing))
    repairs = select(Repair).where(col(Repair.order_id).in_(owing))
    for flute in session.exec(flutes):
        lines[flute.order_id].append(flute.amount)
    for repair in session.exec(repairs):
        lines[repair.order_id].append(repair.price)
    paid = dict.fromkeys(owing, Decimal(0))
    for payment in session.exec(select(Payment).where(col(Payment.order_id).in_(owing))):
        paid[payment.order_id] += payment.amount
    left = {order_id: _total(order, lines[order_id]) - paid[order_id] for order_id, order in owing.items()}
    return {order_id: amount for order_id, amount in left.items() if amount > 0}


def in_all(session: Session) -> tuple[int, dict[str, Decimal]]:
    """How many orders owe something, and how much, by currency."""
    owed = unpaid(session)
    sums: dict[str, Decimal] = {}
    for order_id, currency in session.exec(select(Order.id, Order.currency).where(col(Order.id).in_(owed))):
        sums[currency] = sums.get(currency, Decimal(0)) + owed[order_id or 0]
    return len(owed), dict(sorted(sums.items()))


def _total(order: Order, lines: list[Decimal]) -> Decimal:
    """What an order that is agreed comes to, by its own tax."""
    return prices.sums(lines, order.postage, tax_of(order, Tax()), order.currency).total


def _roughly_owes() -> sa.ColumnElement[bool]:
    def sum_of(column: Any, of: Any, *more: Any) -> Any:
        each: sa.ColumnElement[float] = sa.cast(column, _FLOAT)
        for one in more:
            each += sa.func.coalesce(sa.cast(one, _FLOAT), 0.0)
        added = sa.func.coalesce(sa.func.sum(each), 0.0)
        return sa.select(added).where(of == Order.id).correlate(Order).scalar_subquery()

    order: Any = Order
    flutes = sum_of(OrderedFlute.price, OrderedFlute.order_id, OrderedFlute.extras_price)
    lines = flutes + sum_of(Repair.price, Repair.order_id)
    factor = 1 + sa.func.coalesce(sa.cast(order.tax_percent, _FLOAT), 0.0) / 100
    untaxed = order.tax_status != TaxStatus.TAXED
    bears = sa.case((untaxed & order.tax_included, 1 / factor), (untaxed | order.tax_included, 1.0), else_=factor)
    whole = (lines + sa.cast(order.postage, _FLOAT)) * bears
    owes: sa.ColumnElement[bool] = whole - sum_of(Payment.amount, Payment.order_id) > 0.004
    return owes
