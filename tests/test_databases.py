"""The databases that other tests rely on: empty, apart from each other, of both kinds, gone afterwards."""

import os
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import create_engine, inspect, text

from tests.postgresql import Server, running_server
from tests.programs import find_postgresql


@pytest.mark.parametrize("visit", [1, 2])
def test_every_test_gets_an_empty_database(database_url: str, visit: int) -> None:
    engine = create_engine(database_url)
    try:
        assert inspect(engine).get_table_names() == []
        with engine.begin() as connection:
            connection.execute(text("CREATE TABLE left_behind (name VARCHAR)"))
            connection.execute(text("INSERT INTO left_behind VALUES ('Türöffner ♪')"))
        with engine.connect() as connection:
            assert connection.scalar(text("SELECT name FROM left_behind")) == "Türöffner ♪"
    finally:
        engine.dispose()


def test_a_copy_has_what_its_template_has(postgresql_server: Server) -> None:
    template = postgresql_server.create()
    with psycopg.connect(_plain(postgresql_server.url(template))) as connection:
        connection.execute("CREATE TABLE wood AS SELECT 'cherry' AS name")
    copy = postgresql_server.create(template)
    with psycopg.connect(_plain(postgresql_server.url(copy))) as connection:
        assert connection.execute("SELECT name FROM wood").fetchall() == [("cherry",)]
    postgresql_server.drop(copy)
    postgresql_server.drop(template)


def test_a_database_in_use_is_dropped_all_the_same(postgresql_server: Server) -> None:
    name = postgresql_server.create()
    with psycopg.connect(_plain(postgresql_server.url(name))) as connection:
        connection.execute("SELECT 1")
        postgresql_server.drop(name)
        with pytest.raises(psycopg.OperationalError):
            connection.execute("SELECT 1")


def test_the_server_is_gone_afterwards() -> None:
    with running_server() as server:
        url = _plain(server.url("postgres"))
        with psycopg.connect(url) as connection:
            home = Path(connection.execute("SHOW data_directory").fetchone()[0]).parent  # type: ignore[index]
            pid = int((home / "data" / "postmaster.pid").read_text().split()[0])
            assert connection.execute("SHOW listen_addresses").fetchone() == ("127.0.0.1",)
    assert not home.exists()
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(url, connect_timeout=2)


def test_the_server_wants_the_password(postgresql_server: Server) -> None:
    url = _plain(postgresql_server.url("postgres")).replace(postgresql_server.password, "wrong")
    with pytest.raises(psycopg.OperationalError, match="password authentication failed"):
        psycopg.connect(url)


def test_the_newest_postgresql_outside_the_search_path_is_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert find_postgresql(tmp_path) is None
    for version in ("9.6", "15", "13"):
        folder = tmp_path / "usr/lib/postgresql" / version / "bin"
        folder.mkdir(parents=True)
        (folder / "initdb").touch()
        if version != "13":
            (folder / "postgres").touch()
    assert find_postgresql(tmp_path) == tmp_path / "usr/lib/postgresql/15/bin"


def _plain(url: str) -> str:
    return url.replace("postgresql+psycopg://", "postgresql://")
