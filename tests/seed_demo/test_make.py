"""The demo shop: alive on any day, the same each time, kept apart from a real shop's data."""

import shutil
from collections import Counter
from itertools import pairwise
from pathlib import Path

import pytest
from sqlmodel import col, func, select
from typer.testing import CliRunner

from seed_demo import history, scenario
from seed_demo.make import make_demo
from tests.demo import TODAY
from webapp import cli
from webapp.db import Database
from webapp.models import (
    Blank,
    BlankStatus,
    Event,
    Order,
    OrderStatus,
    Reading,
    Shop,
    Stage,
    StepRecord,
    StockMovement,
)
from webapp.shop.people import door
from webapp.shop.people.guesses import Visitor


@pytest.fixture
def demo(demo_folder: Path, tmp_path: Path) -> Database:
    shutil.copyfile(demo_folder / "shop.sqlite3", tmp_path / "shop.sqlite3")
    return Database(f"sqlite:///{tmp_path / 'shop.sqlite3'}")


def test_there_is_work_at_every_stage(demo: Database) -> None:
    with demo.read() as session:
        blanks = session.exec(select(Blank)).all()
        orders = session.exec(select(Order)).all()
        readings = session.exec(select(func.count()).select_from(Reading)).one()
    at_work = Counter(blank.stage for blank in blanks if blank.status is BlankStatus.IN_WORK)
    assert set(at_work) == set(Stage)
    assert len(blanks) >= 40
    assert len(orders) >= 12
    assert {blank.status for blank in blanks} == set(BlankStatus) - {BlankStatus.MISTAKE}
    assert {OrderStatus.ENQUIRY, OrderStatus.READY, OrderStatus.HANDED_OVER} <= {order.status for order in orders}
    assert any(blank.waits_for == "clamps" and blank.waits_until > TODAY for blank in blanks)
    assert readings > 300


def test_readings_scatter_as_real_ones_do(demo: Database) -> None:
    with demo.read() as session:
        cents = session.exec(select(Reading.cents)).all()
    assert min(cents) < -10
    assert max(cents) > 1
    assert len({round(value, 1) for value in cents}) > 50


def test_nothing_happens_after_today_or_out_of_order(demo: Database) -> None:
    with demo.read() as session:
        for table in (StepRecord, Reading, Event, StockMovement):
            assert session.exec(select(func.max(table.at))).one() <= TODAY
        for blank in session.exec(select(Blank)):
            times = session.exec(
                select(StepRecord.at).where(StepRecord.blank_id == blank.id).order_by(col(StepRecord.id))
            ).all()
            assert all(earlier <= later for earlier, later in pairwise(times)), blank.serial


@pytest.fixture
def in_part(monkeypatch: pytest.MonkeyPatch) -> None:
    """A part of the scenario alone, since the whole of it takes some seconds to make."""
    monkeypatch.setattr(scenario, "ORDERS", scenario.ORDERS[3:6])
    monkeypatch.setattr(scenario, "FOR_THE_SHELF", scenario.FOR_THE_SHELF[4:])
    monkeypatch.setattr(history, "LAST_TAKEN", history.FROM + 8)


@pytest.mark.usefixtures("in_part")
def test_it_is_the_same_each_time(tmp_path: Path) -> None:
    kept = []
    for name in ("one", "two"):
        url = f"sqlite:///{tmp_path / name}"
        make_demo(url, f"password of {name}", TODAY)
        database = Database(url)
        with database.read() as session:
            blanks = session.exec(select(Blank).order_by(col(Blank.id))).all()
            values = session.exec(select(StepRecord.value).order_by(col(StepRecord.id))).all()
            heard = session.exec(select(Reading.frequency).order_by(col(Reading.id))).all()
        database.close()
        kept.append(([(b.serial, b.status, b.stage, b.next_name) for b in blanks], values, heard))
    assert kept[0] == kept[1]


@pytest.mark.usefixtures("in_part")
def test_the_command_keeps_the_demo_apart_and_gives_a_new_password_each_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FLUTEBENCH_DATA", str(tmp_path))
    said = [CliRunner().invoke(cli.app, ["demo", "--no-serve"]).output for _ in range(2)]
    assert not (tmp_path / "shop.sqlite3").exists()
    passwords = [text.split("password ")[1].split()[0] for text in said]
    assert passwords[0] != passwords[1]
    assert "Making the demo shop" in said[0]
    assert "Making the demo shop" not in said[1]
    database = Database(f"sqlite:///{tmp_path / 'demo' / 'shop.sqlite3'}")
    with database.read() as session:
        assert session.get(Shop, 1).is_demo
    assert door.check(database, Visitor("here"), scenario.OWNER, passwords[0]) is None
    assert door.check(database, Visitor("here"), scenario.OWNER, passwords[1]) is not None
    database.close()
