"""PostgreSQL databases lent to one test after another: emptied in between, since a new copy costs far more.

What a test left behind must not reach the next. So each test signs in with an account of its own, which is closed
when the test is over: a thread or a process that lives on can't write any more. Its connections are ended, every table
that has rows is emptied, and what counts begins anew. Where the schema is no longer the template's, or the rows that
the template itself has are not, the database is thrown away.
"""

import time
from collections.abc import Iterable
from dataclasses import dataclass

import psycopg
from psycopg import sql

from tests.postgresql import Server

# Deleted rows stay in the files until they are swept out: a new copy now and then costs less than sweeping.
USES = 25
PATIENCE_S = 10.0

TABLES = "SELECT relname FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace ORDER BY relname"
COUNTED_ON = "SELECT sequencename FROM pg_sequences WHERE schemaname = 'public' AND last_value IS NOT NULL"
OTHERS = "SELECT pid FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
# Whatever changes a table, an index, a column, a key or a function writes a row of these anew, under a later xmin.
CATALOGUES = ("pg_attribute", "pg_class", "pg_constraint", "pg_proc", "pg_trigger", "pg_type")
SCHEMA = "SELECT " + ", ".join(
    f"(SELECT concat_ws(' ', count(*), max(xmin::text::bigint)) FROM {catalogue} WHERE {number} >= 16384)"
    for catalogue, number in [(name, "attrelid" if name == "pg_attribute" else "oid") for name in CATALOGUES]
)


@dataclass
class Lent:
    """A database that is lent to a test: `url` is its address for this test alone."""

    home: "Home"
    account: str
    url: str


class Home:
    """A copy of the template, with a connection that empties it and knows what it was made with."""

    def __init__(self, name: str, keeper: psycopg.Connection) -> None:
        self.name = name
        self.uses = 0
        self._keeper = keeper
        tables = [row[0] for row in keeper.execute(TABLES).fetchall()]
        have_rows = [name for name in tables if keeper.execute(_any_row(name)).fetchone()]
        # The template's own rows, such as the schema's revision, stay, and are told by their words.
        self._with_rows = _as_one(
            sql.SQL("SELECT {} WHERE EXISTS ({})").format(name, _any_row(name))
            for name in tables
            if name not in have_rows
        )
        self._own_rows = _as_one(
            sql.SQL("SELECT string_agg(t::text, '|' ORDER BY t::text) FROM {} t").format(sql.Identifier(name))
            for name in have_rows
        )
        # Rows may then go in any order, whatever refers to them.
        keeper.execute("SET session_replication_role = replica")
        self._as_made = self._state()

    def is_left_alone(self) -> bool:
        """End what connections others still have; False where one does not end."""
        deadline = time.monotonic() + PATIENCE_S
        while others := self._keeper.execute(OTHERS).fetchall():
            if time.monotonic() > deadline:
                return False
            for (pid,) in others:
                self._keeper.execute("SELECT pg_terminate_backend(%s)", (pid,))
            time.sleep(0.001)
        return True

    def is_as_made(self) -> bool:
        """Whether the schema and the template's own rows are what they were."""
        return self._state() == self._as_made

    def empty(self) -> None:
        """Remove every row that a test wrote; numbers begin at 1 again."""
        tables = [row[0] for row in self._keeper.execute(self._with_rows).fetchall()]
        sequences = [row[0] for row in self._keeper.execute(COUNTED_ON).fetchall()]
        steps = [sql.SQL("DELETE FROM {}").format(sql.Identifier(name)) for name in tables]
        steps += [sql.SQL("SELECT setval({}, 1, false)").format(_quoted(name)) for name in sequences]
        if steps:
            self._keeper.execute(sql.SQL("; ").join(steps))

    def close(self) -> None:
        self._keeper.close()

    def _state(self) -> list[tuple[object, ...]]:
        return [*self._keeper.execute(SCHEMA).fetchall(), *self._keeper.execute(self._own_rows).fetchall()]


class Lending:
    """Copies of one template, each in the hands of one test at a time."""

    def __init__(self, server: Server, template: str) -> None:
        self._server = server
        self._template = template
        self._idle: list[Home] = []

    def lend(self) -> Lent:
        """A database as the template is, with an address that nobody had before."""
        home = self._idle.pop() if self._idle else self._new()
        home.uses += 1
        account = self._server.open_account()
        return Lent(home, account, self._server.url(home.name, account))

    def take_back(self, lent: Lent) -> None:
        """Shut the test out; then make the database what it was, or throw it away."""
        home = lent.home
        self._server.close_account(lent.account)
        if home.uses < USES and home.is_left_alone() and home.is_as_made():
            home.empty()
            self._idle.append(home)
        else:
            home.close()
            self._server.drop(home.name)

    def close(self) -> None:
        while self._idle:
            self._idle.pop().close()

    def _new(self) -> Home:
        name = self._server.create(self._template)
        return Home(name, psycopg.connect(self._server.plain_url(name), autocommit=True))


def _any_row(table: str) -> sql.Composed:
    return sql.SQL("SELECT 1 FROM {}").format(sql.Identifier(table))


def _as_one(questions: Iterable[sql.Composed]) -> sql.Composed:
    """Answers of one column to several questions, asked at once."""
    return sql.SQL(" UNION ALL ").join([sql.SQL("SELECT '' WHERE false"), *questions])


def _quoted(sequence: str) -> sql.Literal:
    return sql.Literal(f'public."{sequence}"')
