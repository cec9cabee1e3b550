"""The databases that other tests rely on: empty, apart from each other, of both kinds, gone afterwards."""

import os
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import create_engine, inspect, text

from tests.lending import Lending, Lent
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
    with psycopg.connect(postgresql_server.plain_url(template)) as connection:
        connection.execute("CREATE TABLE wood AS SELECT 'cherry' AS name")
    copy = postgresql_server.create(template)
    with psycopg.connect(postgresql_server.plain_url(copy)) as connection:
        assert connection.execute("SELECT name FROM wood").fetchall() == [("cherry",)]
    postgresql_server.drop(copy)
    postgresql_server.drop(template)


def test_a_database_in_use_is_dropped_all_the_same(postgresql_server: Server) -> None:
    name = postgresql_server.create()
    with psycopg.connect(postgresql_server.plain_url(name)) as connection:
        connection.execute("SELECT 1")
        postgresql_server.drop(name)
        with pytest.raises(psycopg.OperationalError):
            connection.execute("SELECT 1")


def test_a_database_is_lent_again_with_nothing_of_the_last_test_in_it(postgresql_server: Server) -> None:
    template = postgresql_server.create()
    with psycopg.connect(postgresql_server.plain_url(template)) as connection:
        connection.execute("""
            CREATE TABLE revision AS SELECT '0007' AS number;
            CREATE TABLE wood (id SERIAL PRIMARY KEY, name VARCHAR UNIQUE);
            CREATE TABLE board (id SERIAL PRIMARY KEY, wood_id INTEGER NOT NULL REFERENCES wood (id));
            CREATE TABLE glue (id SERIAL PRIMARY KEY, name VARCHAR);
            INSERT INTO glue (name) VALUES ('hide'), ('white')""")
    lending = Lending(postgresql_server, template)

    def enter(lent: Lent) -> psycopg.Connection:
        return psycopg.connect(_plain(lent.url))

    first, other = lending.lend(), lending.lend()
    assert other.home is not first.home, "one database must not be lent twice at a time"
    for _ in range(3):
        with enter(first) as connection:
            connection.execute("INSERT INTO wood (name) VALUES ('cherry'), ('ash')")
            connection.execute("INSERT INTO board (wood_id) VALUES (1), (2), (2)")
            connection.execute("INSERT INTO glue (name) VALUES ('hot melt')")
            connection.execute("DELETE FROM glue WHERE name = 'hide'")
            connection.execute("UPDATE revision SET number = '0008'")
        left_open = enter(first)
        left_open.execute("UPDATE wood SET name = 'elm' WHERE id = 1")
        lending.take_back(first)
        with pytest.raises(psycopg.OperationalError):  # neither goes on, nor comes in again
            left_open.execute("INSERT INTO wood (name) VALUES ('late')")
        left_open.close()
        with pytest.raises(psycopg.OperationalError, match="not permitted to log in"):
            enter(first)
        again = lending.lend()
        assert again.home is first.home and again.url != first.url
        with enter(again) as connection:
            assert connection.execute("SELECT name FROM wood").fetchall() == []
            assert connection.execute("SELECT id FROM board").fetchall() == []
            assert connection.execute("SELECT number FROM revision").fetchall() == [("0007",)]
            assert connection.execute("SELECT * FROM glue").fetchall() == [(1, "hide"), (2, "white")]
            assert connection.execute("INSERT INTO wood (name) VALUES ('oak') RETURNING id").fetchone() == (1,)
            assert connection.execute("INSERT INTO glue (name) VALUES ('fish') RETURNING id").fetchone() == (3,)
        first = again

    for change in (
        "ALTER TABLE wood ADD COLUMN grain VARCHAR",
        "ALTER TABLE wood DROP COLUMN name",
        "ALTER TABLE board DROP CONSTRAINT board_wood_id_fkey",
        "CREATE INDEX by_wood ON board (wood_id)",
        "CREATE TABLE left_behind (name VARCHAR)",
        "DROP TABLE board",
        "CREATE FUNCTION always() RETURNS INTEGER LANGUAGE sql AS 'SELECT 1'",
    ):
        changed = lending.lend()
        with enter(changed) as connection:
            connection.execute(change)
        lending.take_back(changed)
        whole = lending.lend()
        assert whole.home is not changed.home, f"lent again after {change}"
        lending.take_back(whole)
    lending.take_back(other)
    lending.take_back(first)
    lending.close()


def test_the_server_is_gone_afterwards() -> None:
    with running_server() as server:
        url = server.plain_url("postgres")
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
    url = postgresql_server.plain_url("postgres").replace(postgresql_server.password, "wrong")
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
