"""Sessions: what is written is on disk, what is not committed is gone, and two writers never lose a change."""

import threading
import time

import pytest
import sqlalchemy as sa
from sqlmodel import select

from tests.shops import OpenShop
from webapp.db import Database
from webapp.models import Drill, Shop
from webapp.turns import Turns


def test_a_unit_of_work_is_kept_whole_or_not_at_all(shop_database: Database) -> None:
    with pytest.raises(KeyError), shop_database.write() as session:
        session.add(Drill(diameter=5.0, label="gone"))
        session.flush()
        raise KeyError
    with shop_database.begin() as session:  # whoever commits by itself did not
        session.add(Drill(diameter=5.5, label="gone too"))
        session.flush()
    with shop_database.write() as session:
        session.add(Drill(diameter=6.0, label="kept"))
    with shop_database.read() as session:
        assert [drill.label for drill in session.exec(select(Drill))] == ["kept"]


def test_two_writers_count_without_losing_a_change(open_shop: OpenShop) -> None:
    def take_numbers() -> None:
        for _ in range(20):
            with open_shop.database.write() as session:
                shop = session.exec(select(Shop).with_for_update()).one()
                shop.next_order += 1
                session.commit()

    threads = [threading.Thread(target=take_numbers) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with open_shop.database.read() as session:
        assert session.get(Shop, 1).next_order == 1 + 4 * 20


def test_sqlite_is_set_for_durability(migrated_sqlite_file: object) -> None:
    database = Database(f"sqlite:///{migrated_sqlite_file}")
    with database.engine.connect() as connection:
        found = {
            name: connection.execute(sa.text(f"PRAGMA {name}")).scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys")
        }
    database.close()
    assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}


def test_writers_of_one_process_take_turns_in_the_order_they_came(open_shop: OpenShop) -> None:
    if open_shop.database.engine.dialect.name != "sqlite":
        return
    came: list[int] = []

    def write(number: int) -> None:
        with open_shop.database.write() as session:
            session.exec(select(Shop)).one()
            came.append(number)
            session.rollback()

    threads = [threading.Thread(target=write, args=(n,)) for n in range(12)]
    with open_shop.database.write() as session:
        session.exec(select(Shop)).one()
        for thread in threads:
            thread.start()
            time.sleep(0.1)
        assert not came
        session.commit()
        # A second transaction queues up behind those who wait already.
        session.exec(select(Shop)).one()
        assert came == list(range(12))
    for thread in threads:
        thread.join()


def test_who_has_waited_too_long_gives_up_the_place_in_the_queue() -> None:
    turns = Turns()
    assert turns.take(0)
    assert not turns.take(0.01)
    turns.give()
    assert turns.take(0)
    turns.give()
    assert turns.take(0)


def test_looking_after_the_database_tells_what_lies_in_it(open_shop: OpenShop) -> None:
    database = open_shop.database
    database.look_after()
    if database.engine.dialect.name == "sqlite":
        with database.read() as session:
            found = dict(session.execute(sa.text("SELECT idx, stat FROM sqlite_stat1 WHERE tbl = 'person'")).all())
        assert "4 1" in found.values()
