"""Moving the demo shop from SQLite to PostgreSQL and back, equal row by row."""

import shutil
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.postgresql import Server
from webapp import db
from webapp.db import Database
from webapp.keeping import moving
from webapp.keeping.backups.backing_up import count_rows
from webapp.keeping.moving import CanNotMove, move
from webapp.models import Customer


def test_a_shop_moves_to_postgresql_and_back(postgresql_server: Server, demo_folder: Path, tmp_path: Path) -> None:
    shutil.copyfile(demo_folder / "shop.sqlite3", tmp_path / "demo.sqlite3")
    here = f"sqlite:///{tmp_path / 'demo.sqlite3'}"
    there = postgresql_server.url(postgresql_server.create())
    moved = move(here, there)
    assert moved.rows == count_rows(here) == count_rows(there)
    assert moved.rows["reading"] > 100
    with pytest.raises(CanNotMove, match="only to an empty database"):
        move(here, there)
    # What is written there next gets the next number.
    shop = Database(there)
    with shop.write() as session:
        session.add(newcomer := Customer(name="Came later"))
        session.commit()
        assert newcomer.id == moved.rows["customer"] + 1
    shop.close()
    back = f"sqlite:///{tmp_path / 'back.sqlite3'}"
    again = move(there, back)
    assert again.rows == {
        **moved.rows,
        "customer": moved.rows["customer"] + 1,
        "search_row": moved.rows["search_row"] + 1,
    }
    assert db.schema_revision(back) == db.newest_revision()


def test_a_move_that_can_not_be_made_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    here, there = f"sqlite:///{tmp_path / 'here.sqlite3'}", f"sqlite:///{tmp_path / 'there.sqlite3'}"
    with pytest.raises(CanNotMove, match="schema"):
        move(here, there)
    db.migrate(here)
    with pytest.raises(CanNotMove, match="already"):
        move(here, here)
    shop = Database(here)
    with shop.write() as session:
        session.add(Customer(name="Someone"))
        session.commit()
    shop.close()

    def forget(table: sa.Table, reading: sa.Connection, writing: sa.Connection) -> int:
        return 0 if table.name == "customer" else copy(table, reading, writing)

    copy = moving._copy
    monkeypatch.setattr(moving, "_copy", forget)
    with pytest.raises(CanNotMove, match="customer did not arrive"):
        move(here, there)
    assert sum(count_rows(there).values()) <= 1


def test_what_somebody_writes_meanwhile_is_told_and_nothing_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A program that knows no lock writes to the old place while the shop is moved."""
    here, there = f"sqlite:///{tmp_path / 'here.sqlite3'}", f"sqlite:///{tmp_path / 'there.sqlite3'}"
    db.migrate(here)
    copy = moving._copy

    def copy_and_write(table: sa.Table, reading: sa.Connection, writing: sa.Connection) -> int:
        copied = copy(table, reading, writing)
        if table.name == "customer":
            shop = Database(here)
            with shop.write() as session:
                session.add(Customer(name="Came just now"))
            shop.close()
        return copied

    monkeypatch.setattr(moving, "_copy", copy_and_write)
    with pytest.raises(CanNotMove, match="wrote to the shop while it was moved"):
        move(here, there)
    assert count_rows(here)["customer"] == 1
    assert sum(count_rows(there).values()) <= 1
    monkeypatch.undo()
    assert move(here, there).rows["customer"] == 1
