"""What a load run writes to, and afterwards what the database holds against what was acknowledged."""

from itertools import chain

import sqlalchemy as sa
from sqlmodel import col, select

from tests.load.person import Shop, Worker
from webapp.db import Database, sqlite_path
from webapp.models import (
    Blank,
    BlankStatus,
    BlankStep,
    Customer,
    Order,
    Outcome,
    Person,
    Reading,
    Role,
    StepKind,
    StepRecord,
    StepState,
    StockItem,
    StockKind,
    StockMovement,
)
from webapp.shop.bench.readings import SOUNDING, goals_for
from webapp.shop.people import accounts


def prepare(url: str, people: int) -> tuple[Shop, dict[int, int]]:
    """Sign-ins for so many makers, and what they write to; the versions of the customers at the beginning."""
    database = Database(url)
    with database.write() as session:
        session.add(item := StockItem(kind=StockKind.CORD, name="cord for the load test", unit="m"))
        like = session.exec(select(Person)).first()
        assert like is not None
        tokens = []
        for n in range(people):
            person = Person(
                name=f"Load {n}", sign_in_name=f"load{n}", password_hash=like.password_hash, role=Role.MAKER
            )
            session.add(person)
            session.flush()
            tokens.append(accounts.open_sign_in(session, person, 1))
        plain = (
            select(Blank.serial, BlankStep.id)
            .join(Blank, col(Blank.id) == BlankStep.blank_id)
            .where(
                Blank.status == BlankStatus.IN_WORK, col(Blank.waits_for).is_(None), BlankStep.state == StepState.OPEN
            )
            .where(BlankStep.name == Blank.next_name, BlankStep.kind == StepKind.WORK, ~col(BlankStep.photo))
        )
        steps = [(serial, step_id) for serial, step_id in session.exec(plain) if step_id is not None]
        customers = session.exec(select(Customer).order_by(col(Customer.id)).limit(6)).all()
        versions = {customer.id: customer.version for customer in customers if customer.id is not None}
        in_work = session.exec(select(Blank).where(Blank.status == BlankStatus.IN_WORK)).all()
        bench = [
            (blank.serial, goal.fingering, goal.frequency)
            for blank in in_work
            if blank.stage in SOUNDING
            for goal in goals_for(session, blank)
        ]
        orders = list(session.exec(select(Order.number).order_by(col(Order.id).desc()).limit(40)))
        item_id = item.id
        session.commit()
    database.close()
    assert item_id is not None
    return Shop(item_id, tokens, steps, list(versions), [b.serial for b in in_work], orders, bench), versions


def check(url: str, shop: Shop, before: dict[int, int], workers: list[Worker]) -> list[str]:
    """The sentences that should not be."""
    database = Database(url)
    wrong = []
    with database.read() as session:
        there = session.exec(
            select(sa.func.count(), sa.func.sum(StockMovement.quantity)).where(StockMovement.item_id == shop.item_id)
        ).one()
        sent = sum(worker.received for worker in workers)
        if (there[0], there[1] or 0) != (sent, sent):
            wrong.append(f"stock: {sent} receipts acknowledged, {there[0]} on record that sum to {there[1]}")
        ids = [step for worker in workers for step in worker.recorded]
        records = session.exec(
            select(StepRecord.step_id).where(col(StepRecord.step_id).in_(ids), StepRecord.outcome == Outcome.PASSED)
        ).all()
        if sorted(records) != sorted(ids):
            wrong.append(f"steps: {len(ids)} acknowledged, {len(records)} records")
        notes = sorted(chain(*(worker.read for worker in workers)))
        found = session.exec(select(Reading.note).where(col(Reading.note).startswith("load "))).all()
        if sorted(found) != notes:
            wrong.append(f"readings: {len(notes)} acknowledged, {len(found)} on record")
        for customer, version in before.items():
            now = session.get_one(Customer, customer).version
            # Each edit that was accepted was made on another version: none wrote over another unseen.
            edits = sorted(chain(*(worker.edited[customer] for worker in workers)))
            if edits != list(range(version, now)):
                wrong.append(f"customer {customer}: from version {version} to {now}, edits of {edits}")
        if sqlite_path(url):
            sound = session.execute(sa.text("PRAGMA quick_check")).scalar()
            if sound != "ok":
                wrong.append(f"the file is not sound: {sound}")
    database.close()
    return wrong
