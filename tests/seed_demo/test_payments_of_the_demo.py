"""Payments of the demo are stamped when they happened: after the order was taken, and before it was handed over."""

from pathlib import Path

from sqlmodel import select

from tests.databases import sqlite_url
from webapp.db import Database
from webapp.models import Order, Payment


def test_every_payment_lies_between_taking_and_handing_over(demo_folder: Path) -> None:
    database = Database(sqlite_url(demo_folder / "shop.sqlite3"))
    with database.read() as session:
        rows = session.exec(select(Payment, Order).where(Order.id == Payment.order_id)).all()
        assert len(rows) > 20
        for payment, order in rows:
            assert payment.at.date() == payment.paid_on, payment
            assert payment.at.date() >= order.taken_on, payment
            assert order.handed_over_at is None or payment.at <= order.handed_over_at, payment
    database.close()
