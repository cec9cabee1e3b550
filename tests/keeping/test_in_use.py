"""Nobody's shop is taken away while it is open: restore, move and migrate refuse, and say who is in the way."""

import os
import signal
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.keeping import programs
from tests.shops import OpenShop
from webapp import db
from webapp.keeping.backups.archive import NotSound
from webapp.keeping.backups.backing_up import back_up, count_rows
from webapp.keeping.backups.restoring import restore
from webapp.keeping.hold import held_by_session, in_use
from webapp.keeping.hold.in_use import InUse
from webapp.keeping.moving import move
from webapp.models import Customer
from webapp.settings import Settings


def test_many_may_use_a_shop_or_one_alone(database_url: str) -> None:
    with in_use.used(database_url, "serve"), in_use.used(database_url, "demo"):
        assert [one.program for one in in_use.holders(database_url)] == ["serve", "demo"]
        with pytest.raises(InUse, match=r"serve \(process \d+ on .+ demo .+--stop-shop"):
            in_use.used(database_url, "restore", alone=True).__enter__()
    assert in_use.holders(database_url) == []
    with in_use.used(database_url, "restore", alone=True):
        assert [one.alone for one in in_use.holders(database_url)] == [True]
        for program, alone in (("serve", False), ("move", True)):
            with pytest.raises(InUse, match=r"restore .+ Wait until"):
                in_use.used(database_url, program, alone=alone).__enter__()
    with pytest.raises(RuntimeError), in_use.used(database_url, "restore", alone=True):
        raise RuntimeError("for this test")
    assert in_use.holders(database_url) == []


def test_an_open_shop_is_not_replaced(open_shop: OpenShop, settings: Settings, tmp_path: Path) -> None:
    archive, _ = back_up(settings)
    with open_shop.database.write() as session:
        session.add(Customer(name="Came later"))
        session.commit()
    open_shop.database.close()
    before = count_rows(settings.database)
    with programs.serving(settings) as server:
        for words in (("restore", str(archive), "--over"), ("move", f"sqlite:///{tmp_path}/other.sqlite3")):
            refused = programs.run(settings, *words)
            assert refused.returncode == 1
            assert f"serve (process {server.pid} on " in refused.stdout
            assert "--stop-shop" in refused.stdout
        assert server.poll() is None
        assert count_rows(settings.database) == before
        assert [path.name for path in settings.backup_folder.iterdir()] == [archive.name]
        _set_back(settings)
        refused = programs.run(settings, "migrate")
        assert (refused.returncode, f"process {server.pid}" in refused.stdout) == (1, True)
        # Killed, it has the shop open no longer.
        server.kill()
        server.wait()
    restored = programs.run(settings, "restore", str(archive), "--over")
    assert (restored.returncode, in_use.place(settings.database) in restored.stdout) == (0, True), restored.stdout
    assert count_rows(settings.database)["customer"] == before["customer"] - 1


def _set_back(settings: Settings) -> None:
    """As if it were an older program's."""
    engine = db.make_engine(settings.database)
    with engine.connect().execution_options(writes=True) as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '0006'"))
        connection.commit()
    engine.dispose()


def test_a_server_can_be_asked_to_stop_first(open_shop: OpenShop, settings: Settings) -> None:
    archive, _ = back_up(settings)
    open_shop.database.close()
    with programs.serving(settings) as server:
        restored = programs.run(settings, "restore", str(archive), "--over", "--stop-shop")
        assert restored.returncode == 0, restored.stdout
        assert server.wait(timeout=10) in (0, -signal.SIGTERM)


def test_nobody_opens_a_shop_that_is_being_replaced(settings: Settings) -> None:
    with in_use.used(settings.database, "restore", alone=True):
        for words in (("serve",), ("backup",), ("user", "ines", "--password", "another long one")):
            refused = programs.run(settings, *words)
            assert (refused.returncode, "in use by flutebench restore (process" in refused.stdout) == (1, True), words


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_a_program_that_knows_no_lock_is_in_the_way_too(open_shop: OpenShop, settings: Settings) -> None:
    archive, _ = back_up(settings)
    open_shop.database.close()
    path = db.sqlite_path(settings.database)
    assert path is not None
    with closing(sqlite3.connect(path)) as other:
        other.execute("INSERT INTO drill (diameter, label) VALUES (11.37, 'odd')")
        other.commit()
        with pytest.raises(NotSound, match="another program has"):
            restore(settings, archive, over=True)
        assert other.execute("SELECT count(*) FROM drill WHERE diameter = 11.37").fetchone() == (1,)
    drills = count_rows(settings.database)["drill"]
    restore(settings, archive, over=True)
    assert count_rows(settings.database)["drill"] == drills - 1


@pytest.mark.parametrize("migrated_database_url", ["postgresql"], indirect=True)
def test_a_server_whose_session_was_lost_holds_the_shop_again(
    open_shop: OpenShop, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked_to_stop: list[tuple[int, int]] = []
    monkeypatch.setattr(held_by_session, "LOOK_EVERY", 0.05)
    monkeypatch.setattr(os, "kill", lambda *what: asked_to_stop.append(what))
    with in_use.used(settings.database, "serve", serving=True):
        _end_sessions(open_shop)
        _until(lambda: [one.program for one in in_use.holders(settings.database)] == ["serve"])
        monkeypatch.setattr(held_by_session, "LOOK_EVERY", 1.0)
        time.sleep(0.2)
        _end_sessions(open_shop)
        # Somebody was quicker: the server must not go on.
        with in_use.used(settings.database, "restore", alone=True):
            _until(lambda: asked_to_stop == [(os.getpid(), signal.SIGTERM)])


def _end_sessions(open_shop: OpenShop) -> None:
    ended = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name LIKE 'flutebench serve%'"
    with open_shop.database.read() as session:
        assert session.execute(sa.text(ended)).scalars().all() == [True]


def _until(true: object, seconds: float = 20.0) -> None:
    assert callable(true)
    until = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < until
        time.sleep(0.02)


def test_both_ends_of_a_move_are_held(migrated_database_url: str, tmp_path: Path) -> None:
    there = f"sqlite:///{tmp_path / 'there.sqlite3'}"
    for url in (migrated_database_url, there):
        with in_use.used(url, "serve"), pytest.raises(InUse, match="serve"):
            move(migrated_database_url, there)
    move(migrated_database_url, there)
