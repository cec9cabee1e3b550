"""What an order comes to: its lines, its tax as agreed, its deposit, what is paid; and keeping these as agreed."""

from dataclasses import dataclass, replace
from decimal import Decimal

from sqlmodel import Session, col, select

from webapp.models import Order, OrderedFlute, OrderStatus, Payment, Repair
from webapp.shop.orders import prices
from webapp.shop.orders.price_customs import customs
from webapp.shop.orders.prices import Sums, Tax


@dataclass(frozen=True, slots=True)
class Account:
    """How an order stands: its total, what has been paid, what is outstanding."""

    total: Decimal
    deposit: Decimal
    paid: Decimal

    @property
    def outstanding(self) -> Decimal:
        """Below zero where more has been paid than is due."""
        return self.total - self.paid

    @property
    def deposit_open(self) -> Decimal:
        """What is missing of the deposit."""
        return max(Decimal(0), self.deposit - self.paid)


def usual_tax(session: Session) -> Tax:
    """The tax as the shop has it now."""
    return customs(session).tax


def tax_of(order: Order, usual: Tax) -> Tax:
    """The order's own tax, as agreed; for an enquiry the shop's usual one."""
    if order.tax_percent is not None:
        return Tax(order.tax_name or "", order.tax_percent, bool(order.tax_included), order.tax_status)
    return replace(usual if order.status is OrderStatus.ENQUIRY else Tax(), status=order.tax_status)


def line_prices(session: Session, order: Order) -> list[Decimal]:
    """The prices of all flutes, with their extras, and repairs of an order."""
    repairs = session.exec(select(col(Repair.price)).where(Repair.order_id == order.id))
    return [*flute_amounts(session, order), *repairs]


def flute_amounts(session: Session, order: Order) -> list[Decimal]:
    """What each flute comes to, with its extras."""
    flutes = session.exec(select(OrderedFlute).where(OrderedFlute.order_id == order.id))
    return [flute.amount for flute in flutes]


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
    return min(_usual_share(session, order, usual_tax(session)), total)


def account(session: Session, order: Order) -> Account:
    """How an order stands now; of a withdrawn one nothing is due."""
    total = sums_of(session, order).total
    if order.status is OrderStatus.WITHDRAWN:
        return Account(Decimal("0.00"), Decimal("0.00"), paid(session, order))
    return Account(total, deposit_of(session, order, total), paid(session, order))


def paid(session: Session, order: Order) -> Decimal:
    """The sum of the order's rows. Added here and not in the query: SQLite would add as floats."""
    return sum(session.exec(select(col(Payment.amount)).where(Payment.order_id == order.id)), Decimal("0.00"))


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
    """The shop's usual share of what the order's flutes come to now, by the order's own tax."""
    return _usual_share(session, order, Tax())


def _usual_share(session: Session, order: Order, usual: Tax) -> Decimal:
    """Only flutes ask a deposit: a repair is paid once it is done."""
    lines = flute_amounts(session, order)
    if not any(lines):
        return Decimal("0.00")
    total = prices.sums(lines, order.postage, tax_of(order, usual), order.currency).total
    return prices.share(total, customs(session).pricing.deposit_percent)


def lacks_extras_price(flute: OrderedFlute) -> bool:
    """Whether extras are asked for that nobody has priced."""
    return bool(flute.extras) and flute.extras_price is None


def unpriced(session: Session, order: Order) -> list[str]:
    """The lines without a price, in words."""
    flutes = select(OrderedFlute).where(OrderedFlute.order_id == order.id).order_by(col(OrderedFlute.position))
    repairs = select(Repair).where(Repair.order_id == order.id).order_by(col(Repair.position))
    found = []
    for flute in session.exec(flutes):
        found += [f"flute {flute.position}"] if flute.price <= 0 else []
        found += [f"what is extra to flute {flute.position} ({flute.extras})"] if lacks_extras_price(flute) else []
    return found + [f"{one.kind} {one.position}" for one in session.exec(repairs) if one.price < 0]
