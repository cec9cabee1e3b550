"""A PostgreSQL database made again from a dump's rows alone.

A dump is a program in SQL, and may come from somebody who means harm. None of it is run: the tables are made by our own
migrations at the dump's revision, and only rows are taken from it, by our own COPY.
"""

import re
from collections.abc import Iterable, Iterator
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import IO, Any

import psycopg
import sqlalchemy as sa
from alembic import command
from psycopg import sql

from webapp import db
from webapp.keeping.backups import postgres_tools
from webapp.keeping.backups.archive import NotSound
from webapp.keeping.backups.schema_check import known_revisions, refuse

_REVISION = "alembic_version"
# What a dump of ours consists of, as pg_restore lists it.
_KINDS = {
    "TABLE",
    "TABLE DATA",
    "SEQUENCE",
    "SEQUENCE OWNED BY",
    "SEQUENCE SET",
    "DEFAULT",
    "CONSTRAINT",
    "FK CONSTRAINT",
    "INDEX",
    "TYPE",
    "SCHEMA",
}
_BEGINS = re.compile(rb'COPY public\."?(\w+)"? \(([\w", ]+)\) FROM stdin;\n')
_ENDS = b"\\.\n"
# What deflate makes of rows: seldom a tenth. More than this is meant to fill the disk.
_LARGEST, _TIMES = 200_000_000, 60


def rebuild(dumped: Path, url: str) -> str:
    """Fill the empty database at `url` with what was dumped; gives the schema's revision. Raises NotSound."""
    revision = revision_in(dumped)
    command.upgrade(db.alembic_config(url), revision)
    engine = sa.create_engine(url, poolclass=sa.NullPool)
    try:
        with engine.begin() as connection:
            made = sa.MetaData()
            made.reflect(connection)
            refuse(strange(dumped, made.tables))
            keys = _without_keys(connection)
            for table in made.tables.values():
                if table.name != _REVISION:
                    connection.execute(table.delete())
            _fill(connection, dumped, made)
            for statement in keys:
                connection.execute(sa.text(statement))
            _number_on(connection, made)
    except sa.exc.DBAPIError as error:
        raise NotSound(f"its rows do not fit the tables: {str(error.orig).splitlines()[0]}") from error
    except psycopg.Error as error:
        raise NotSound(f"its rows do not fit the tables: {str(error).splitlines()[0]}") from error
    finally:
        engine.dispose()
    return revision


def revision_in(dumped: Path) -> str:
    """The schema's revision of what was dumped. Raises NotSound where this program does not know it."""
    with postgres_tools.rows_of(dumped, _REVISION) as lines:
        found = [row.decode(errors="replace").strip() for _, _, row in _rows(lines, 1_000_000)]
    if len(found) != 1 or found[0] not in known_revisions():
        raise NotSound(f"its database is at schema {found}, which this version of Flutebench does not know")
    return found[0]


def strange(dumped: Path, tables: Iterable[str]) -> list[str]:
    """What a dump says to have besides these tables and what belongs to them, in words.

    The list can lie, so nothing but rows is used; this is to tell whoever has something in there that would go.
    """
    known = {*tables, _REVISION}
    return [
        f"it has {kind.lower()} {name!r}, which Flutebench does not know"
        for kind, name in postgres_tools.listed(dumped)
        if kind not in _KINDS or (kind == "TABLE" and name not in known)
    ]


def _without_keys(connection: sa.Connection) -> list[str]:
    """Take the foreign keys away, since rows come in any order; gives what makes them again and looks at every row."""
    asked = sa.text(
        "SELECT conrelid::regclass::text, quote_ident(conname), pg_get_constraintdef(oid) FROM pg_constraint "
        "WHERE contype = 'f' AND connamespace = 'public'::regnamespace ORDER BY conname"
    )
    made = []
    for table, name, words in connection.execute(asked).all():
        connection.execute(sa.text(f"ALTER TABLE {table} DROP CONSTRAINT {name}"))
        made.append(f"ALTER TABLE {table} ADD CONSTRAINT {name} {words}")
    return made


def _fill(connection: sa.Connection, dumped: Path, made: sa.MetaData) -> None:
    driver: Any = connection.connection.driver_connection
    most = max(_LARGEST, _TIMES * dumped.stat().st_size)
    with postgres_tools.rows_of(dumped) as lines:
        for (table, columns), rows in groupby(_rows(lines, most), key=itemgetter(0, 1)):
            if table == _REVISION:
                continue
            if table not in made.tables or not set(columns) <= set(made.tables[table].columns.keys()):
                raise NotSound(f"its database has columns of {table[:60]!r} that Flutebench does not know")
            into = sql.SQL("COPY public.{} ({}) FROM STDIN").format(
                sql.Identifier(table), sql.SQL(", ").join(map(sql.Identifier, columns))
            )
            with driver.cursor() as cursor, cursor.copy(into) as copying:
                for _, _, row in rows:
                    copying.write(row)


def _rows(lines: IO[bytes], most: int) -> Iterator[tuple[str, tuple[str, ...], bytes]]:
    """Each row with its table and columns, out of a script of which everything else is passed over.

    Raises NotSound where there is more than `most` bytes.
    """
    table, seen = "", 0
    columns: tuple[str, ...] = ()
    # In pieces: a line without an end would fill the memory.
    while line := lines.readline(1 << 24):
        seen += len(line)
        if seen > most or (len(line) == 1 << 24 and not line.endswith(b"\n")):
            raise NotSound("its database unpacks to far more than it should")
        if table and line == _ENDS:
            table = ""
        elif table:
            yield table, columns, line
        elif begins := _BEGINS.fullmatch(line):
            table = begins[1].decode()
            columns = tuple(name.strip().strip('"') for name in begins[2].decode().split(","))


def _number_on(connection: sa.Connection, made: sa.MetaData) -> None:
    """Let new rows be numbered after those that are there."""
    for table in made.tables.values():
        for column in table.primary_key:
            name = connection.execute(
                sa.select(sa.func.pg_get_serial_sequence(f'"{table.name}"', column.name))
            ).scalar_one()
            if name:
                top = sa.select(sa.func.coalesce(sa.func.max(column), 0)).scalar_subquery()
                connection.execute(sa.select(sa.func.setval(name, top + 1, False)))
