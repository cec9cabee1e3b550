"""Databases for tests, each test on SQLite and on PostgreSQL.

`database_url` is an empty database, `migrated_database_url` one with the present schema. The schema is made
once in each process that runs tests and then copied, since copying is much quicker than migrating; on PostgreSQL, where
copying is slow too, a copy is lent to one test after another (tests/lending.py).
"""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.lending import Lending
from tests.postgresql import Server, running_server

KINDS = ("sqlite", "postgresql")


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[Server]:
    """A PostgreSQL server of this process's own, started when first asked for."""
    with running_server() as server:
        yield server


@pytest.fixture(params=KINDS)
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The SQLAlchemy URL of an empty database; the test runs once for each kind."""
    if request.param == "sqlite":
        yield sqlite_url(tmp_path / "empty.db")
    else:
        yield from _copy_of("template0", request.getfixturevalue("postgresql_server"))


@pytest.fixture(params=KINDS)
def migrated_database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The SQLAlchemy URL of a database with the present schema; the test runs once for each kind.

    It has no rows of a shop, or those of the open shop where the test asks for `open_shop` too (tests/shops.py).
    """
    with_shop = "open_" if "open_shop" in request.fixturenames else ""
    if request.param == "sqlite":
        copy = tmp_path / "migrated.db"
        shutil.copyfile(request.getfixturevalue(f"{with_shop}migrated_sqlite_file"), copy)
        yield sqlite_url(copy)
    else:
        lending = request.getfixturevalue(f"{with_shop}postgresql_lending")
        lent = lending.lend()
        yield lent.url
        lending.take_back(lent)


@pytest.fixture(scope="session")
def migrated_sqlite_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated SQLite file to copy."""
    path = tmp_path_factory.mktemp("migrated") / "template.db"
    migrate(sqlite_url(path))
    return settled(path)


@pytest.fixture(scope="session")
def migrated_postgresql_template(postgresql_server: Server) -> str:
    """The name of a migrated PostgreSQL database to copy. Nobody may be connected to it."""
    name = postgresql_server.create()
    migrate(postgresql_server.url(name))
    return name


@pytest.fixture(scope="session")
def postgresql_lending(postgresql_server: Server, migrated_postgresql_template: str) -> Iterator[Lending]:
    """Migrated PostgreSQL databases, each for one test at a time."""
    lending = Lending(postgresql_server, postgresql_server.create(migrated_postgresql_template))
    yield lending
    lending.close()


def settled(path: Path) -> Path:
    """A SQLite file with nothing left in a write-ahead log beside it, so that it can be copied."""
    with closing(sqlite3.connect(path)) as connection:
        busy, *_ = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    assert not busy, f"{path} is still open for writing"
    return path


def migrate(url: str) -> None:
    """Bring the database at `url` to the present schema. Imported here: most tests need no app."""
    from webapp.db import migrate as migrate_database

    migrate_database(url)


def sqlite_url(path: Path) -> str:
    """The SQLAlchemy URL of a SQLite file."""
    return f"sqlite:///{path.as_posix()}"


def _copy_of(template: str, server: Server) -> Iterator[str]:
    name = server.create(template)
    yield server.url(name)
    server.drop(name)
