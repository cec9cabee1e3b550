"""Whether a SQLite database has the schema that this program gives it, and nothing else.

A backup may come from somebody who means harm: a trigger in it could make its writer an owner at the next order. So
everything in it is compared with a fresh database at the same revision, before anything else is read.
"""

import re
import sqlite3
import tempfile
from collections.abc import Mapping
from contextlib import closing
from functools import lru_cache
from pathlib import Path

from alembic import command
from alembic.script import ScriptDirectory

from webapp import db
from webapp.keeping.backups.archive import NotSound

Schema = Mapping[tuple[str, str], object]
# SQLite's own: no statement can make a table of such a name.
_ITS_OWN = {"sqlite_sequence", "sqlite_stat1", "sqlite_stat4"}


def strange(path: Path) -> list[str]:
    """What a database has that it should not have at its revision, and what it lacks, in words. Raises NotSound."""
    found, revision = read(path)
    return differences(expected(revision), found)


def refuse(odd: list[str]) -> None:
    """Raises NotSound where there is anything."""
    if odd:
        more = f"; and {len(odd) - 5} more" if len(odd) > 5 else ""
        raise NotSound(f"its database is not as Flutebench makes it: {'; '.join(odd[:5])}{more}")


def read(path: Path) -> tuple[Schema, str]:
    """What there is in the database, and its revision. Raises NotSound."""
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as connection:
            connection.execute("PRAGMA trusted_schema = OFF")
            connection.execute("PRAGMA cell_size_check = ON")
            kinds = dict(connection.execute("SELECT name, type FROM sqlite_master WHERE name = 'alembic_version'"))
            if kinds != {"alembic_version": "table"}:
                raise NotSound("its database is none of Flutebench: it has no schema's number")
            revisions = [row[0] for row in connection.execute("SELECT version_num FROM alembic_version LIMIT 2")]
            if len(revisions) != 1 or revisions[0] not in known_revisions():
                raise NotSound(
                    f"its database is at schema {str(revisions)[1:40]}, which this version of Flutebench does not know"
                )
            return _schema(connection), revisions[0]
    except sqlite3.Error as error:
        raise NotSound(f"its database can't be read: {error}") from error


def known_revisions() -> set[str]:
    return {script.revision for script in ScriptDirectory.from_config(db.alembic_config("")).walk_revisions()}


@lru_cache(maxsize=16)
def expected(revision: str) -> Schema:
    """The schema of a fresh database at this revision, made by the migrations themselves."""
    with tempfile.TemporaryDirectory(prefix="flutebench-schema-") as folder:
        path = Path(folder) / "fresh.sqlite3"
        command.upgrade(db.alembic_config(f"sqlite:///{path.resolve()}"), revision)
        with closing(sqlite3.connect(path)) as connection:
            return _schema(connection)


def differences(wanted: Schema, found: Schema) -> list[str]:
    """What is too much, what is missing, and what is another, in words."""
    told = [f"it has {kind} {name!r}, which Flutebench does not know" for kind, name in sorted(found.keys() - wanted)]
    told += [f"it lacks {kind} {name!r}" for kind, name in sorted(wanted.keys() - found)]
    both = sorted(wanted.keys() & found.keys())
    other = [(kind, name) for kind, name in both if wanted[kind, name] != found[kind, name]]
    return told + [f"its {kind} {name!r} is another one" for kind, name in other]


def _schema(connection: sqlite3.Connection) -> Schema:
    """Tables and indexes by what they consist of, since the words that made them may differ with the library's version;
    triggers, views and tables of other programs' modules by their words."""
    schema: dict[tuple[str, str], object] = {}
    rows = connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_master").fetchall()
    for kind, name, of, sql in rows:
        if name in _ITS_OWN or (kind == "index" and sql is None and name.startswith("sqlite_autoindex_")):
            continue
        words = _plain(sql or "")
        if kind == "table" and not words.upper().startswith("CREATE VIRTUAL"):
            # What follows the last bracket: WITHOUT ROWID, STRICT.
            schema["table", name] = words.rpartition(")")[2]
            for column in connection.execute(f"PRAGMA table_xinfo({_quoted(name)})").fetchall():
                _, title, holds, needed, default, key, hidden = column
                schema["column", f"{name}.{title}"] = (holds.upper(), needed, _plain(default or ""), key, hidden)
            keys = connection.execute(f"PRAGMA foreign_key_list({_quoted(name)})").fetchall()
            schema["keys of", name] = sorted(key[2:] for key in keys)
        elif kind == "index":
            parts = connection.execute(f"PRAGMA index_xinfo({_quoted(name)})").fetchall()
            schema["index", name] = (of, [part[2:] for part in parts], words.partition(" WHERE ")[2])
        else:
            schema[kind, name] = words
    return schema


def _plain(sql: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"[\"`\[\]]", "", sql)).strip()


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'
