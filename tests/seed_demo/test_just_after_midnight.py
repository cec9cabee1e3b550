"""The demo is made at any hour: two hours before half past midnight it was still the day before."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from sqlmodel import select

from seed_demo import office
from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Order, PaidBy, Payment, PaymentKind, Shop, at


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_what_was_paid_today_was_not_paid_tomorrow(open_shop: OpenShop) -> None:
    today = datetime(2031, 5, 2, 0, 20, tzinfo=UTC)
    with open_shop.database.write() as session, at(today):
        session.get_one(Shop, 1).timezone = "UTC"
        made.order(session)
        kind, amount = PaymentKind.PAYMENT, Decimal(5)
        order = session.get_one(Order, 1)
        moment = today - timedelta(hours=2)
        office._record(session, open_shop.owner, order, kind, amount, PaidBy.CASH, moment, today)
        assert session.exec(select(Payment.paid_on)).one().isoformat() == "2031-05-01"
