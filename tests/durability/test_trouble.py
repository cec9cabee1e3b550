"""Disk full, disk read-only, database locked, damaged, clock set back: a clear page, and nothing harmed."""

import errno
import os
import sqlite3
import sys
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlalchemy import event
from sqlmodel import select

from tests import blanks as made
from tests.api.programs import Program, key_of
from tests.doors import HERE, guess
from tests.shops import PASSWORD, OpenShop
from webapp import db
from webapp.keeping import writable
from webapp.keeping.backups.backing_up import count_rows
from webapp.models import StockItem, at, now
from webapp.shop.base.errors import Invalid
from webapp.shop.blanks import state as blank_state
from webapp.shop.people import door, guesses
from webapp.shop.people.tokens import Scope
from webapp.shop.stock import rules as stock

pytestmark = pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)

LOT = {"kind": "cord", "name": "waxed cord", "unit": "m", "quantity": "5"}


@pytest.fixture(autouse=True)
def pragmas(app: FastAPI) -> list[str]:
    """What the server's new connections obey.

    Listened for before the server has threads: one that connects while the list of listeners changes fails.
    """
    obeyed: list[str] = []

    def obey(connection: sqlite3.Connection, *_: Any) -> None:
        for pragma in obeyed:
            connection.execute(f"PRAGMA {pragma}")

    event.listen(app.state.database.engine, "connect", obey)
    app.state.pragmas = obeyed
    return obeyed


@contextmanager
def on_every_connection(app: FastAPI, *pragmas: str) -> Iterator[None]:
    """The server's connections obey these pragmas meanwhile."""
    engine = app.state.database.engine
    app.state.pragmas[:] = pragmas
    engine.dispose()
    yield
    app.state.pragmas.clear()
    engine.dispose()


def sound(url: str) -> bool:
    path = db.sqlite_path(url)
    assert path is not None
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def pages_of(url: str) -> int:
    path = db.sqlite_path(url)
    assert path is not None
    with closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("PRAGMA page_count").fetchone()[0])


def test_the_server_connects_while_its_connections_change(app: FastAPI) -> None:
    """What the keeper's thread does while a test here begins or ends."""
    database, over, failed = app.state.database, threading.Event(), []

    def connect() -> None:
        while not over.is_set() and not failed:
            try:
                with database.read() as session:
                    session.connection()
            except RuntimeError as error:
                failed.append(error)

    often = sys.getswitchinterval()
    thread = threading.Thread(target=connect)
    sys.setswitchinterval(1e-6)
    try:
        thread.start()
        for _ in range(1500):
            with on_every_connection(app, "cache_size = 100"):
                pass
    finally:
        over.set()
        thread.join()
        sys.setswitchinterval(often)
    assert not failed


def _programs_are_told(office: Program) -> None:
    """Every further entry is refused, as on the pages: not 'try again', since that does not help."""
    for n in range(40):
        answer = office.ask("POST", "/customers", {"name": f"Somebody {n} " + "x" * 90})
        if answer.status_code != 201:
            break
    assert (answer.status_code, answer.headers["content-type"]) == (507, "application/problem+json")
    assert answer.json()["type"] == "/api#problem-disk-full"


def test_a_full_disk_is_told_and_harms_nothing(
    client: TestClient, app: FastAPI, migrated_database_url: str, open_shop: OpenShop
) -> None:
    key = key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE)
    with on_every_connection(app, f"max_page_count = {pages_of(migrated_database_url)}"):
        for n in range(400):
            answer = client.post("/stock/new", data=LOT | {"name": f"cord {n} " + "x" * 100}, follow_redirects=False)
            if answer.status_code != 303:
                break
        assert (answer.status_code, "The disk is full" in answer.text) == (507, True)
        assert answer.headers["x-trouble"] == "The disk is full"
        assert client.get("/stock").status_code == 200
        ready = client.get("/readyz")
        assert (ready.status_code, ready.json()) == (503, {"database": True, "schema": True, "writing": False})
        _programs_are_told(Program(app, key))
    assert sound(migrated_database_url)
    before = count_rows(migrated_database_url)
    assert before["stock_item"] == before["stock_movement"] == before["submission"] + n
    assert client.post("/stock/new", data=LOT).status_code == 200


def test_a_read_only_disk_is_told(
    client: TestClient, app: FastAPI, migrated_database_url: str, open_shop: OpenShop
) -> None:
    key = key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE)
    before = count_rows(migrated_database_url)
    with on_every_connection(app, "query_only = ON"):
        answer = client.post("/stock/new", data=LOT)
        assert (answer.status_code, "can&#39;t be written to" in answer.text) == (503, True)
        assert client.get("/stock").status_code == 200
        assert client.get("/readyz").json()["writing"] is False
        answer = Program(app, key).ask("POST", "/customers", {"name": "Somebody"})
        assert (answer.status_code, answer.json()["type"]) == (503, "/api#problem-read-only")
    assert count_rows(migrated_database_url) == before


def test_a_locked_database_is_told_and_the_form_can_be_sent_again(
    client: TestClient, app: FastAPI, migrated_database_url: str
) -> None:
    form = LOT | {"once": "the key of this form"}
    path = db.sqlite_path(migrated_database_url)
    assert path is not None
    with on_every_connection(app, "busy_timeout = 50"):
        with closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            answer = client.post("/stock/new", data=form)
            assert (answer.status_code, "busy" in answer.text) == (503, True)
            assert client.get("/stock").status_code == 200
        assert client.post("/stock/new", data=form).status_code == 200
        assert client.post("/stock/new", data=form).status_code == 200
    assert stock_named(app, "waxed cord") == 1


def test_a_damaged_database_is_told(client: TestClient, app: FastAPI, migrated_database_url: str) -> None:
    path = db.sqlite_path(migrated_database_url)
    assert path is not None
    app.state.database.engine.dispose()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    whole = path.read_bytes()
    path.write_bytes(b"no database any more" + whole[20:])
    answer = client.get("/stock")
    assert (answer.status_code, "is damaged" in answer.text) == (503, True)
    path.write_bytes(whole)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_folder_without_room_is_not_ready(
    client: TestClient, app: FastAPI, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The folder of the pictures may be on another disk than the database; and what was found holds for a moment."""
    monkeypatch.setattr(writable, "LOOK_EVERY", 0.0)
    assert client.get("/readyz").status_code == 200
    monkeypatch.setattr("tempfile.TemporaryFile", lambda **_: os.fdopen(os.open("/dev/full", os.O_WRONLY), "wb"))
    assert client.get("/readyz").json() == {"database": True, "schema": True, "writing": False}
    monkeypatch.undo()
    assert client.get("/readyz").status_code == 503


@pytest.mark.parametrize(("number", "status"), [(errno.ENOSPC, 507), (errno.EROFS, 503)])
def test_a_file_that_can_not_be_written_is_told(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, number: int, status: int
) -> None:
    def fail(*_: object) -> None:
        raise OSError(number, "for this test")

    monkeypatch.setattr(stock, "add_lot", fail)
    assert client.post("/stock/new", data=LOT).status_code == status


def test_a_clock_set_back_loses_nothing(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        [blank] = made.opened(session, open_shop.maker, flute_id=made.order(session))
        with at(now() - timedelta(days=400)):
            made.bring_to(session, open_shop.maker, blank, "glue-up")
        names = [step.state.value for step in blank_state.steps_of(session, blank.id)]
    # Whoever typed a wrong password before is not kept out until the clock has caught up.
    with at(now() + timedelta(days=400)):
        guess(open_shop.database, HERE, "tam", guesses.TRIES_BY_NAME)
        with pytest.raises(Invalid, match="Too many"):
            door.check(open_shop.database, HERE, "tam", PASSWORD)
    assert door.check(open_shop.database, HERE, "tam", PASSWORD) is not None
    for address in ("/", f"/blanks/{blank.serial}", "/glue-up", "/promise", "/shop/diary", "/orders"):
        assert client.get(address).status_code == 200, address
    with open_shop.database.write() as session, at(now() - timedelta(days=800)):
        assert [step.state.value for step in blank_state.steps_of(session, blank.id)] == names


def stock_named(app: FastAPI, name: str) -> int:
    with app.state.database.read() as session:
        return len(session.exec(select(StockItem).where(StockItem.name == name)).all())
