"""What an order comes to: its lines, its tax as agreed, its deposit; and keeping these as they were agreed."""

from decimal import Decimal

from sqlmodel import Session, col, select

from webapp.models import Order, OrderedFlute, OrderStatus, Repair
from webapp.shop.orders import prices
from webapp.shop.orders.price_customs import customs
from webapp.shop.orders.prices import Sums, Tax


def usual_tax(session: Session) -> Tax:
    """The tax as the shop has it now."""
    return customs(session).tax


def tax_of(order: Order, usual: Tax) -> Tax:
    """The order's own tax, as agreed; for an enquiry the shop's usual one."""
    if order.tax_percent is not None:
        return Tax(order.tax_name or "", order.tax_percent, bool(order.tax_included))
    return usual if order.status is OrderStatus.ENQUIRY else Tax()


def line_prices(session: Session, order: Order) -> list[Decimal]:
    """The prices of all flutes and repairs of an order."""
    flutes = session.exec(select(col(OrderedFlute.price)).where(OrderedFlute.order_id == order.id))
    repairs = session.exec(select(col(Repair.price)).where(Repair.order_id == order.id))
    return [*flutes, *repairs]


def sums_of(session: Session, order: Order) -> Sums:
    """What an order comes to now."""
    tax = tax_of(order, usual_tax(session))
    return prices.sums(line_prices(session, order), order.postage, tax, order.currency)


def deposit_of(session: Session, order: Order, total: Decimal) -> Decimal:
    """The deposit asked for: as agreed, else the shop's usual share of the total."""
    if order.deposit is not None:
        return min(order.deposit, total)
    if order.status is not OrderStatus.ENQUIRY:
        return Decimal("0.00")
    return prices.share(total, customs(session).pricing.deposit_percent)


def keep_as_agreed(session: Session, order: Order) -> None:
    """From a quote or a confirmation on, tax and deposit stay as the customer was told."""
    if order.tax_percent is None:
        usual = usual_tax(session)
        order.tax_name, order.tax_percent, order.tax_included = usual.name, usual.percent, usual.included
    if order.deposit is None:
        session.flush()
        order.deposit = usual_deposit(session, order)
    session.add(order)


def usual_deposit(session: Session, order: Order) -> Decimal:
    """The shop's usual share of what the order comes to now, by the order's own tax."""
    total = prices.sums(line_prices(session, order), order.postage, tax_of(order, Tax()), order.currency).total
    return prices.share(total, customs(session).pricing.deposit_percent)


def unpriced(session: Session, order: Order) -> list[str]:
    """The lines without a price, in words."""
    flutes = select(OrderedFlute).where(OrderedFlute.order_id == order.id).order_by(col(OrderedFlute.position))
    repairs = select(Repair).where(Repair.order_id == order.id).order_by(col(Repair.position))
    found = [f"flute {flute.position}" for flute in session.exec(flutes) if flute.price <= 0]
    return found + [f"{one.kind} {one.position}" for one in session.exec(repairs) if one.price < 0]
