"""The demo shop with amounts in it that stand nowhere else: in every column that holds money, and in its diary."""

import json
import re
import shutil
from collections.abc import Iterator, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, SQLModel, col, create_engine, select

from tests.databases import sqlite_url
from webapp.db import Database
from webapp.models import (
    Bill,
    Blank,
    Order,
    OrderedFlute,
    OrderStatus,
    PaidBy,
    Person,
    Repair,
    Role,
    SignIn,
    StockItem,
    Units,
    now,
)
from webapp.models.base import Money
from webapp.shop.billing import rules as billing
from webapp.shop.orders import flutes as ordered_flutes, payments, price_customs, rules as orders
from webapp.shop.orders.flutes import as_typed
from webapp.shop.orders.forms import ChangeFlute, ChangeOrder
from webapp.shop.orders.payments import PaymentAsked, PutRight
from webapp.shop.orders.price_customs import OptionAsked, PricingAsked
from webapp.shop.people import accounts, tokens
from webapp.shop.people.accounts import Who
from webapp.shop.people.tokens import Scope, TokenAsked
from webapp.shop.settings import workshop
from webapp.shop.settings.workshop import WorkshopAsked
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import LotAsked

# What `_by_hand` types: the diary and the record of changes speak of these, whatever the columns hold later.
TYPED = {Decimal(text) for text in ("4217.93", "4127.83", "4273.19", "4463.71", "4731.93", "4612.39")}
TYPED |= {Decimal(f"435{n}.37") for n in range(5)}
_EXACT = re.compile(r"\d+\.\d\d")


def fill(demo: Path, into: Path) -> str:
    """A copy of the demo's database, filled; gives its address."""
    shutil.copytree(demo, into)
    url = sqlite_url(into / "shop.sqlite3")
    database = Database(url)
    with database.write() as session:
        _by_hand(session, who(session, Role.OWNER))
    database.close()
    engine = create_engine(url)
    with engine.begin() as connection:
        _everywhere(connection)
    engine.dispose()
    return url


def who(session: Session, role: Role) -> Who:
    """The first person of a role."""
    person = session.exec(select(Person).where(Person.role == role).order_by(col(Person.id))).first()
    assert person is not None and person.id is not None
    return Who(person.id, person.name, person.role, Units.MM)


def entered(url: str, role: Role) -> tuple[str, str]:
    """A sign-in and an API key of someone of this role, both fresh."""
    database = Database(url)
    with database.write() as session:
        someone = who(session, role)
        token = accounts.open_sign_in(session, session.get_one(Person, someone.id), 1)
        session.get_one(SignIn, accounts.digest(token)).confirmed_at = now()
        key = tokens.make(session, someone, TokenAsked(name="a walk", scopes=list(Scope)))[1]
    database.close()
    return token, key


def money_columns() -> list[tuple[sa.Table, sa.Column[Any]]]:
    """Every column that holds an amount."""
    return [
        (table, column)
        for table in SQLModel.metadata.sorted_tables
        for column in table.columns
        if isinstance(column.type, Money)
    ]


def amounts(url: str) -> set[Decimal]:
    """Every amount that is stored, in columns and in what is kept word for word."""
    engine = create_engine(url)
    found = set(TYPED)
    with engine.connect() as connection:
        for _, column in money_columns():
            found |= {abs(value) for value in connection.execute(sa.select(column)).scalars() if value}
        for table, name in (("issued_paper", "content"), ("ordered_flute", "built_up"), ("bill", "content")):
            for text in connection.execute(sa.text(f"SELECT {name} FROM {table}")).scalars():
                found |= {Decimal(one) for one in _EXACT.findall(text or "")}
    engine.dispose()
    return found


def stored(url: str) -> dict[str, Any]:
    """All that is stored of money, to compare before and after."""
    engine = create_engine(url)
    with engine.connect() as connection:
        kept = {
            f"{table.name}.{column.name}": list(
                connection.execute(sa.select(*table.primary_key.columns, column).order_by(*table.primary_key.columns))
            )
            for table, column in money_columns()
        }
        kept["papers"] = list(connection.execute(sa.text("SELECT id, content FROM issued_paper ORDER BY id")))
        kept["taxes"] = list(connection.execute(sa.text("SELECT id, tax_percent FROM customer_order ORDER BY id")))
    engine.dispose()
    return {name: [tuple(row) for row in rows] for name, rows in kept.items()}


def _by_hand(session: Session, owner: Who) -> None:
    """Changes through the shop's rules, so that the diary and the record of changes speak of amounts."""
    found = price_customs.customs(session)
    asked = PricingAsked.model_validate(price_customs.as_typed(found) | {"hourly_voicing": "4217.93"})
    price_customs.change(session, owner, asked)
    for option in price_customs.options(session)[:1]:
        price_customs.save_option(session, owner, option.id, OptionAsked(name=option.name, price=Decimal("4127.83")))
    room = workshop.workshop(session)
    workshop.change(session, owner, WorkshopAsked.model_validate(workshop.as_typed(room) | {"hourly_rate": "4273.19"}))
    lots = session.exec(select(StockItem).where(col(StockItem.used_up).is_(False)).order_by(col(StockItem.id)))
    for n, item in enumerate(list(lots)[:5]):
        label = LotAsked.model_validate(item.model_dump(include=set(LotAsked.model_fields)))
        assert item.id is not None
        stock.relabel(session, owner, item.id, label.model_copy(update={"unit_cost": Decimal(f"435{n}.37")}))
    for n, order in enumerate(of_each_status(session)):
        if order.status in orders.OPEN:
            changed = ChangeOrder(version=order.version, postage=Decimal(f"44{n:02}.57"), deposit=Decimal("4463.71"))
            changed.why = "the parcel grew"
            orders.change_order(session, owner, order.number, changed)
        if order.status is OrderStatus.CONFIRMED:
            for flute in orders.flutes_of(session, order):
                typed = as_typed(flute, Units.MM) | {"price": "4731.93", "version": order.version, "why": "inlay"}
                assert flute.id is not None
                wanted = ChangeFlute.model_validate(typed, context={"units": Units.MM})
                ordered_flutes.change_flute(session, owner, order.number, flute.id, wanted)
        if order.status is not OrderStatus.ENQUIRY:
            pay = PaymentAsked(amount=Decimal(f"45{n:02}.79"), paid_by=PaidBy.CASH, paid_on=order.taken_on)
            made = payments.record(session, owner, order.number, pay)
            payments.record(session, owner, order.number, pay.model_copy(update={"amount": Decimal("4612.39")}))
            assert made.id is not None
            payments.put_right(session, owner, order.number, made.id, PutRight(why="another order's"))
        if order.status in billing.BILLED:
            session.refresh(order)
            billing.invoice(session, owner, order.number, order.version)
    session.flush()


def of_each_status(session: Session) -> Iterator[Order]:
    for status in OrderStatus:
        yield from session.exec(select(Order).where(Order.status == status).order_by(col(Order.id)).limit(2)).all()


def bills(session: Session, orders: Sequence[Order]) -> list[tuple[int, int]]:
    """Number of the order and id of a few of its bills, the newest first."""
    numbers = {order.id: order.number for order in orders}
    statement = select(Bill).where(col(Bill.order_id).in_(numbers)).order_by(col(Bill.id).desc()).limit(4)
    return [(numbers[bill.order_id], bill.id or 0) for bill in session.exec(statement)]


def _everywhere(connection: sa.Connection) -> None:
    """Each amount that is stored becomes one of its own, above 3,000, with cents."""
    for n, (table, column) in enumerate(money_columns()):
        keys = list(table.primary_key.columns)
        rows = connection.execute(sa.select(*keys, column).where(column != Decimal(0))).all()
        for k, row in enumerate(rows):
            amount = Decimal(3000 + 137 * n + 7 * k % 1000) + Decimal((37 * k + 11 * n) % 89 + 10) / 100
            where = [key == value for key, value in zip(keys, row[:-1], strict=True)]
            signed = -amount if row[-1] < 0 else amount
            connection.execute(sa.update(table).where(*where).values({column.name: signed}))
    papers = connection.execute(sa.text("SELECT id, content FROM issued_paper")).all()
    for paper_id, text in papers:
        content = json.loads(text)
        content["total"] = f"{3900 + paper_id}.71"
        connection.execute(
            sa.text("UPDATE issued_paper SET content = :content WHERE id = :id"),
            {"content": json.dumps(content), "id": paper_id},
        )


def serials() -> Any:
    """Of some blanks in every state."""
    return select(Blank.serial).order_by(col(Blank.id)).limit(2)


def lines(session: Session) -> tuple[list[Order], list[OrderedFlute], list[Repair], list[StockItem]]:
    """What has pages of its own with money on it: orders of each status with their flutes and repairs, and lots."""
    orders = list(of_each_status(session))
    ids = [order.id for order in orders]
    return (
        orders,
        list(
            session.exec(select(OrderedFlute).where(col(OrderedFlute.order_id).in_(ids)).order_by(col(OrderedFlute.id)))
        ),
        list(session.exec(select(Repair).where(col(Repair.order_id).in_(ids)).order_by(col(Repair.id)))),
        list(session.exec(select(StockItem).order_by(col(StockItem.id)).limit(5))),
    )
