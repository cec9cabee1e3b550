"""The ledger of an order: rows are added, never changed; what is outstanding; the file for an accounting program."""

import csv
from datetime import timedelta
from decimal import Decimal
from io import StringIO
from typing import Any

import pytest

from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop
from webapp.models import OrderStatus, PaidBy, PaymentKind
from webapp.shop.base.errors import Invalid, NotAllowed, Refused
from webapp.shop.orders import customers, money as order_money, payments, rules as orders
from webapp.shop.orders.forms import Withdraw
from webapp.shop.orders.payments import PaymentAsked, PutRight


def test_what_came_in_what_went_back_and_what_is_outstanding(open_shop: OpenShop) -> None:
    shop = open_shop
    with shop.database.write() as session:
        name = "=HYPERLINK(1), Ada"
        order = orders.take_order(session, shop.office, asked(shop, customer_name=name, count=2))
        day = orders.today(session)

        def paid(amount: str, kind: PaymentKind = PaymentKind.PAYMENT, **more: Any) -> int:
            given = {"amount": Decimal(amount), "kind": kind, "paid_by": PaidBy.CASH, "paid_on": day} | more
            made = payments.record(session, shop.office, 1, PaymentAsked(**given))
            assert made.id is not None
            return made.id

        paid("144.00", PaymentKind.DEPOSIT, reference='a "receipt", 12', note="+49 called")
        twice = [paid("100.50"), paid("100.50")]
        payments.put_right(session, shop.office, 1, twice[1], PutRight(why="written down twice"))
        paid("0.50", PaymentKind.REFUND)
        found = order_money.account(session, order)
        assert (found.total, found.paid, found.outstanding) == (Decimal(480), Decimal("244.00"), Decimal("236.00"))
        rows = payments.of_order(session, order)
        assert [row.payment.amount for row in rows] == [
            Decimal(text) for text in ("144.00", "100.50", "100.50", "-100.50", "-0.50")
        ]
        assert [row.put_right for row in rows] == [False, False, True, False, False]
        session.commit()
        for wrong, message in [(twice[1], "already"), (rows[3].payment.id, "itself")]:
            with pytest.raises(Refused, match=message):
                payments.put_right(session, shop.office, 1, wrong or 0, PutRight(why="again"))
            session.rollback()
        for bad in (
            {"amount": Decimal(900), "kind": PaymentKind.REFUND},
            {"amount": Decimal(1), "paid_on": day + timedelta(days=2)},
            {"amount": Decimal(1), "paid_on": day - timedelta(days=2000)},
        ):
            with pytest.raises(Invalid):
                payments.record(
                    session, shop.office, 1, PaymentAsked(**({"paid_by": PaidBy.CARD, "paid_on": day} | bad))
                )
            session.rollback()
        with pytest.raises(NotAllowed):
            payments.ledger(session, shop.maker)
        # RFC 4180, read by the standard library's reader; no cell is a formula for a spreadsheet.
        read = list(csv.DictReader(StringIO(payments.as_csv(payments.ledger(session, shop.office)), newline="")))
        assert [row["amount"] for row in read] == ["144.00", "100.50", "100.50", "-100.50", "-0.50"]
        assert (read[0]["reference"], read[0]["note"]) == ('a "receipt", 12', "'+49 called")
        assert read[0]["customer"] == f"'{name}"
        assert read[3]["corrects entry"] == read[2]["entry"]
        assert payments.years(session) == [day.year]
        assert payments.ledger(session, shop.office, day.year - 1) == []
        orders.withdraw(session, shop.office, 1, Withdraw(version=order.version, why="moved"))
        assert order_money.account(session, order).outstanding == Decimal("-244.00"), "it has to go back"
        assert order.status is OrderStatus.WITHDRAWN
        assert customers.named(session, name)
