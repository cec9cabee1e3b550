"""What a database complains of, by its codes: not by its messages, which it says in the language it was set up in."""

import sqlite3
from contextlib import closing
from pathlib import Path

import psycopg
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlalchemy.exc import DatabaseError

# As a German and a Spanish server say it.
FULL = psycopg.errors.DiskFull("konnte Datei nicht erweitern: Auf dem Gerät ist kein Speicherplatz mehr verfügbar")
READ_ONLY = psycopg.errors.ReadOnlySqlTransaction("no se puede ejecutar INSERT en una transacción de sólo lectura")
# It quotes what was typed.
QUOTING = psycopg.errors.InvalidTextRepresentation('invalid input syntax for type integer: "the disk image, malformed"')


@pytest.mark.parametrize(
    ("error", "status", "title"),
    [
        (FULL, 507, "The disk is full"),
        (READ_ONLY, 503, "The disk can't be written to"),
        (psycopg.errors.DataCorrupted("ungültige Seite"), 503, "The database is damaged"),
        (QUOTING, 503, "The database is busy or out of reach"),
        (sqlite3.OperationalError("database is locked"), 503, "The database is busy or out of reach"),
    ],
)
def test_a_database_may_speak_any_language(
    client: TestClient, app: FastAPI, error: psycopg.Error | sqlite3.Error, status: int, title: str
) -> None:
    answer = _after(client, app, error)
    assert answer == (status, title)


def test_what_sqlite_says_is_known_by_its_code(client: TestClient, app: FastAPI, tmp_path: Path) -> None:
    sound, broken = tmp_path / "sound.db", tmp_path / "broken.db"
    broken.write_bytes(b"no database at all " * 100)
    with closing(sqlite3.connect(sound)) as writing:
        writing.execute("CREATE TABLE t (x)")
        writing.commit()
        writing.execute("PRAGMA max_page_count = 2")
        full = _raised(writing, "INSERT INTO t VALUES (zeroblob(100000))")
    with closing(sqlite3.connect(f"file:{sound}?mode=ro", uri=True)) as reading:
        read_only = _raised(reading, "INSERT INTO t VALUES (1)")
    with closing(sqlite3.connect(broken)) as damaged:
        no_database = _raised(damaged, "SELECT * FROM t")
    assert _after(client, app, full) == (507, "The disk is full")
    assert _after(client, app, read_only) == (503, "The disk can't be written to")
    assert _after(client, app, no_database) == (503, "The database is damaged")


def _raised(connection: sqlite3.Connection, statement: str) -> sqlite3.Error:
    with pytest.raises(sqlite3.Error) as raised:
        connection.execute(statement)
    return raised.value


def _after(client: TestClient, app: FastAPI, error: psycopg.Error | sqlite3.Error) -> tuple[int, str]:
    """The status, and the title of the page, where a database complains of `error`."""

    def complains() -> None:
        raise DatabaseError("SELECT 1", {}, error)

    path = f"/complains-{id(error)}"
    app.get(path)(complains)
    answer = client.get(path)
    return answer.status_code, answer.headers["x-trouble"]
