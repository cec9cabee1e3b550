"""PostgreSQL databases lent to one test after another: restored in between, since a new copy costs far more.

What a test left behind must not reach the next. So each test signs in with an account of its own, which is closed
when the test is over: a thread or a process that lives on can't write any more. Its connections are ended, every table
that has rows is emptied, the template's own rows are put back, and what counts begins where it began. Where the schema
is no longer the template's, the database is thrown away.
"""

import time
from dataclasses import dataclass

import psycopg
from psycopg import sql
from psycopg.sql import Identifier

from tests.postgresql import Server

# Deleted rows stay in the files until they are swept out: a new copy now and then costs less than sweeping.
USES = 25
PATIENCE_S = 10.0

TABLES = "SELECT relname FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace ORDER BY relname"
COUNTED = "SELECT sequencename, last_value FROM pg_sequences WHERE schemaname = 'public' ORDER BY sequencename"
OTHERS = "SELECT pid FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
# Whatever changes a table, an index, a column, a key or a function writes a row of these again, under a later xmin.
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
    """A copy of the template, with a connection that makes it what it was."""

    def __init__(self, name: str, keeper: psycopg.Connection, own: dict[str, bytes]) -> None:
        """`own` are the template's rows by their tables, as COPY gives and takes them."""
        self.name = name
        self.uses = 0
        self._keeper = keeper
        self._own = own
        self._which_have_rows = sql.SQL(" UNION ALL ").join(
            sql.SQL("SELECT {} WHERE EXISTS (SELECT FROM public.{})").format(table, Identifier(table))
            for (table,) in keeper.execute(TABLES).fetchall()
        )
        # Rows may then go and come in any order, whatever refers to them, and no trigger looks.
        keeper.execute("SET session_replication_role = replica")
        self._schema = keeper.execute(SCHEMA).fetchall()
        self._counted: dict[str, int | None] = dict(keeper.execute(COUNTED).fetchall())

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

    def has_its_schema(self) -> bool:
        """Whether tables, columns, keys and the like are those it was made with."""
        return self._keeper.execute(SCHEMA).fetchall() == self._schema

    def restore(self) -> None:
        """Remove every row that a test wrote, put back those it was made with, and count from where it counted."""
        written = [Identifier(table) for (table,) in self._keeper.execute(self._which_have_rows).fetchall()]
        counted: dict[str, int | None] = dict(self._keeper.execute(COUNTED).fetchall())
        steps = [sql.SQL("DELETE FROM public.{}").format(table) for table in written]
        for name, begin in self._counted.items():
            if counted[name] != begin:
                arguments = f'public."{name}"', begin or 1, begin is not None
                steps.append(sql.SQL("SELECT setval({}, {}, {})").format(*arguments))
        self._keeper.execute(sql.SQL("; ").join(steps))
        for table, rows in self._own.items():
            with self._keeper.cursor().copy(sql.SQL("COPY public.{} FROM STDIN").format(Identifier(table))) as copy:
                copy.write(rows)

    def close(self) -> None:
        self._keeper.close()


class Lending:
    """Copies of one template, each in the hands of one test at a time."""

    def __init__(self, server: Server, template: str) -> None:
        """Remember what rows the template has. Nobody else may be connected to it, now or later."""
        self._server = server
        self._template = template
        self._idle: list[Home] = []
        self._own: dict[str, bytes] = {}
        with psycopg.connect(server.plain_url(template)) as connection:
            for (table,) in connection.execute(TABLES).fetchall():
                with connection.cursor().copy(sql.SQL("COPY public.{} TO STDOUT").format(Identifier(table))) as copy:
                    if rows := b"".join(copy):
                        self._own[table] = rows

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
        if home.uses < USES and home.is_left_alone() and home.has_its_schema():
            home.restore()
            self._idle.append(home)
        else:
            home.close()
            self._server.drop(home.name)

    def close(self) -> None:
        while self._idle:
            self._idle.pop().close()

    def _new(self) -> Home:
        name = self._server.create(self._template)
        return Home(name, psycopg.connect(self._server.plain_url(name), autocommit=True), self._own)
