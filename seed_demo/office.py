"""The demo's office: what prices are built from, payments, an order that changed, flutes that came back."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from random import Random

from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    BlankStatus,
    BlankStep,
    Customer,
    Order,
    OrderedFlute,
    OrderStatus,
    PaidBy,
    PaymentKind,
    Repair,
    RepairKind,
    Rounding,
    at,
)
from webapp.shop.billing import rules as billing
from webapp.shop.costs import flute_price
from webapp.shop.costs.flute_price import PriceAsked
from webapp.shop.orders import customers, money, payments, price_customs, rules as orders, status_page
from webapp.shop.orders.forms import ChangeOrder
from webapp.shop.orders.payments import PaymentAsked, PutRight
from webapp.shop.orders.price_customs import OptionAsked, PricingAsked
from webapp.shop.people.accounts import Who
from webapp.shop.production import repairs, stages
from webapp.shop.production.repairs import TakeRepair

SEED = 1907
BILLED = 12
# stage: minutes of work on one flute, what an hour of it costs
RATES = {
    "boring": (75, "32.00"),
    "gluing": (30, "32.00"),
    "flue": (45, "36.00"),
    "voicing": (50, "40.00"),
    "tuning": (80, "40.00"),
    "finishing": (55, "32.00"),
}
# name, adds to the price, materials, minutes
OPTIONS = [
    ("Carved block, heron", "65.00", "3.00", 90),
    ("Inlay at the foot, maple", "48.00", "4.50", 60),
    ("Lined case", "58.00", "31.00", 0),
    ("Leather tie in place of cord", "9.00", "3.20", 5),
]
LETTERHEAD = "14 Millrace Yard, Little Quay\nworkshop@tansy-quillon.invalid · 0555 0100"
ADDRESSES = {
    "Sefa Lindqvist": "3 Orchard Steps\nLittle Quay",
    "Odalys Brandt": "The Old Pump House\nWeir Lane\nUpper Sallow",
    "Ilka Dornfeld": "22 Canal Row\nSallow",
}


def set_customs(session: Session, owner: Who) -> None:
    """Rates, markup, tax, rounding and options, as the shop has had them from the start."""
    asked: dict[str, object] = {
        "consumables": "7.50",
        "overhead_percent": "6",
        "markup_percent": "12",
        "rounding": Rounding.UP_5,
        "tax_name": "Sales tax",
        "tax_percent": "6.25",
        "deposit_percent": "30",
        "letterhead": LETTERHEAD,
        "terms": price_customs.TERMS,
    }
    for stage, (minutes, hourly) in RATES.items():
        asked |= {f"minutes_{stage}": minutes, f"hourly_{stage}": hourly}
    price_customs.change(session, owner, PricingAsked.model_validate(asked))
    for name, price, materials, minutes in OPTIONS:
        option = OptionAsked(
            name=name, price=Decimal(price), materials=Decimal(materials), minutes=minutes, offered=True
        )
        price_customs.save_option(session, owner, None, option)


def keep_the_books(session: Session, owner: Who, today: datetime) -> None:
    """All that the office has done besides, up to today."""
    with at(today - timedelta(hours=4)):
        _addresses(session, owner)
    dice = Random(SEED)  # noqa: S311  (scatter for a demo, no secret)
    newest = select(Order).where(col(Order.status).not_in((OrderStatus.ENQUIRY, OrderStatus.WITHDRAWN)))
    for order in session.exec(newest.order_by(col(Order.number).desc())).all():
        pay(session, owner, order, today, dice)
    _bill(session, owner)
    with at(today - timedelta(hours=3)):
        _price(session, owner, "Corin Slate", 2)
        _price(session, owner, "Yara Finch-Halloran", 1)
        _change(session, owner, today)
        _follow(session, owner, "Sefa Lindqvist")
        _came_back(session, owner, today)


def _addresses(session: Session, owner: Who) -> None:
    for name, address in ADDRESSES.items():
        for found in customers.named(session, name)[:1]:
            assert found.id is not None
            asked = customers.CustomerAsked(
                name=found.name, contact=found.contact, note=found.note, address=address, version=found.version
            )
            customers.change(session, owner, found.id, asked)


def pay(
    session: Session, owner: Who, order: Order, today: datetime, dice: Random, fetched: datetime | None = None
) -> None:
    """A deposit some days after the order was confirmed, the rest when it is fetched, each on its own day."""
    if order.status is OrderStatus.QUOTED or payments.last_row(session, order):
        return
    fetched = fetched or order.handed_over_at
    account = money.account(session, order)
    way = dice.choice(list(PaidBy)[:4])
    day = min(order.taken_on + timedelta(days=dice.randint(1, 5)), today.date())
    deposited = min(datetime.combine(day, today.timetz()), fetched or today, today - timedelta(hours=2))
    if account.deposit and dice.random() < 0.9:
        _record(session, owner, order, PaymentKind.DEPOSIT, account.deposit, way, deposited, today)
    if fetched is not None:
        rest = money.account(session, order).outstanding
        if rest > 0:
            _record(session, owner, order, PaymentKind.PAYMENT, rest, way, fetched, today)


def _bill(session: Session, owner: Who) -> None:
    """Invoices of the orders that were fetched last, each on its day, and a receipt of what was paid for the last."""
    newest = select(Order).where(Order.status == OrderStatus.HANDED_OVER).order_by(col(Order.handed_over_at).desc())
    for n, order in enumerate(reversed(session.exec(newest.limit(BILLED)).all()), 1):
        assert order.handed_over_at is not None
        with at(order.handed_over_at):
            billing.invoice(session, owner, order.number, order.version)
            for row in payments.of_order(session, order) if n == BILLED else ():
                billing.receipt(session, owner, order.number, row.payment.id or 0)


def _record(
    session: Session,
    owner: Who,
    order: Order,
    kind: PaymentKind,
    amount: Decimal,
    way: PaidBy,
    moment: datetime,
    today: datetime,
) -> None:
    with at(min(moment, today)):
        asked = PaymentAsked(kind=kind, amount=amount, paid_by=way, paid_on=orders.today(session))
        payments.record(session, owner, order.number, asked)


def _price(session: Session, owner: Who, name: str, options: int) -> None:
    """The price of a flute that was only asked for, built up with some options, and quoted."""
    order = _order(session, name, (OrderStatus.ENQUIRY, OrderStatus.QUOTED))
    if order is None:
        return
    flute = session.exec(select(OrderedFlute).where(OrderedFlute.order_id == order.id)).first()
    assert flute is not None and flute.id is not None
    ids = [option.id for option in price_customs.options(session)[:options] if option.id is not None]
    flute_price.agree(session, owner, order.number, flute.id, PriceAsked(version=order.version, options=ids))
    session.refresh(order)
    if order.status is OrderStatus.QUOTED:
        orders.quote(session, owner, order.number, order.version)


def _change(session: Session, owner: Who, today: datetime) -> None:
    """A later day, agreed and told; then postage, agreed and not told yet; and a deposit written down twice."""
    order = _order(session, "Odalys Brandt", (OrderStatus.IN_THE_SHOP,))
    if order is None or order.due_on is None:
        return
    asked = ChangeOrder(
        version=order.version,
        due_on=order.due_on + timedelta(days=7),
        note=order.note,
        why="The third one cracked at the foot: it is made again",
    )
    orders.change_order(session, owner, order.number, asked)
    session.refresh(order)
    orders.confirm_again(session, owner, order.number, order.version)
    session.refresh(order)
    moment = today - timedelta(hours=2)
    with at(moment):
        posted = ChangeOrder(
            version=order.version,
            due_on=order.due_on,
            note=order.note,
            postage=Decimal("18.50"),
            why="To be sent in place of fetched",
        )
        orders.change_order(session, owner, order.number, posted)
        once = PaymentAsked(
            kind=PaymentKind.PAYMENT, amount=Decimal("120"), paid_by=PaidBy.TRANSFER, paid_on=moment.date()
        )
        payments.record(session, owner, order.number, once)
        again = payments.record(session, owner, order.number, once)
        assert again.id is not None
        payments.put_right(session, owner, order.number, again.id, PutRight(why="Written down twice"))


def _follow(session: Session, owner: Who, name: str) -> None:
    """The customer's page of one order, open. Nobody knows its address: it is made again where it is wanted."""
    order = _order(session, name, (OrderStatus.READY, OrderStatus.IN_THE_SHOP))
    if order is not None:
        status_page.open_page(session, owner, order.number, order.version)


def _came_back(session: Session, owner: Who, today: datetime) -> None:
    """A flute of the shop's own with a crack, begun; and one made elsewhere that is asked about."""
    row = session.exec(
        select(Blank, Order)
        .join(OrderedFlute, col(OrderedFlute.id) == Blank.ordered_flute_id)
        .join(Order, col(Order.id) == OrderedFlute.order_id)
        .join(Customer, col(Customer.id) == Order.customer_id)
        .where(Customer.name == "Ilka Dornfeld", Blank.status == BlankStatus.HANDED_OVER)
    ).first()
    if row is None:  # not in a part of the scenario
        return
    blank, made_for = row
    asked = TakeRepair.model_validate(
        {
            "kind": RepairKind.REPAIR,
            "whose": "ours",
            "serial": blank.serial,
            "asked": "A hairline crack from the window toward the mouth; the lowest note will not speak in the cold.",
            "price": Decimal("55.00"),
            "customer_id": made_for.customer_id,
            "status": OrderStatus.CONFIRMED,
            "due_on": today.date() + timedelta(days=18),
        }
    )
    order = repairs.take(session, owner, asked)
    repair = session.exec(select(Repair).where(Repair.order_id == order.id)).one()
    assert repair.id is not None
    repairs.begin(session, owner, order.number, repair.id, order.version)
    first = _steps(session, repair)[0]
    assert first.id is not None
    note = "Crack is 31 mm long and closes by hand. C5 and D5 were 9 cents flat as it came."
    stages.record(session, owner, first.id, stages.RecordStep(note=note))
    other = TakeRepair.model_validate(
        {
            "kind": RepairKind.RETUNING,
            "whose": "other",
            "described": "Cedar, as long as a forearm, five holes, a bird burned in below the mouth end; key not known",
            "asked": "The second hole is sharp by ear.",
            "customer_name": "Emmet Larkrise",
            "customer_id": "new",
            "contact": "emmet@post.invalid",
        }
    )
    repairs.take(session, owner, other)


def _steps(session: Session, repair: Repair) -> Sequence[BlankStep]:
    return session.exec(
        select(BlankStep).where(BlankStep.repair_id == repair.id).order_by(col(BlankStep.position))
    ).all()


def _order(session: Session, name: str, stands: tuple[OrderStatus, ...]) -> Order | None:
    statement = select(Order).join(Customer, col(Customer.id) == Order.customer_id).where(Customer.name == name)
    return session.exec(statement.where(col(Order.status).in_(stands)).order_by(col(Order.number).desc())).first()
