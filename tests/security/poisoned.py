"""The demo shop with hostile texts in the place of every name, note and address that a person can type."""

import shutil
from pathlib import Path

import sqlalchemy as sa
from sqlmodel import AutoString, Session, SQLModel, create_engine, select

from tests.databases import sqlite_url
from webapp.models import Person, SignIn, now
from webapp.shop.people import accounts

# A formula for a spreadsheet, a tag with an event, an address that a paper must not fetch, both kinds of quotes.
LONG = "=1+1<img src=file:///x onerror=a()>\"'"
SHORT = "=1<b onclick=a()>\"'"
TYPED = {
    "address", "after", "asked", "before", "caption", "caution", "contact", "described", "device", "ended_why",
    "extras", "found", "instruction", "label", "letterhead", "lot", "name", "next_name", "note", "papers", "place",
    "price_why", "reference", "source", "taken_back_why", "tax_name", "terms", "warned", "what", "what_to_check",
    "why", "why_early", "why_late", "words",
}  # fmt: skip
NOT_TYPED = {"api_answered", "chore", "import_draft", "print_run", "search_row"}


def columns() -> list[tuple[sa.Table, sa.Column[str]]]:
    return [
        (table, column)
        for table in SQLModel.metadata.sorted_tables
        for column in table.columns
        if isinstance(column.type, AutoString) and column.name in TYPED and table.name not in NOT_TYPED
    ]


def poison(demo: Path, into: Path) -> str:
    """A copy of the demo's database, poisoned; gives its address."""
    shutil.copytree(demo, into)
    engine = create_engine(sqlite_url(into / "shop.sqlite3"))
    with engine.begin() as connection:
        for table, column in columns():
            longest = column.type.length or 1000
            text = LONG if longest > len(LONG) + 8 else SHORT
            marked = sa.literal(text).concat(sa.cast(table.c.id, sa.String)) if column.unique else sa.literal(text)
            connection.execute(sa.update(table).where(column != "").values({column.name: marked}))
    engine.dispose()
    return sqlite_url(into / "shop.sqlite3")


def token_of_owner(url: str, name: str) -> str:
    """A sign-in for this person, as fresh as if they had just typed their password."""
    engine = create_engine(url)
    with Session(engine) as session:
        person = session.exec(select(Person).where(Person.sign_in_name == name)).one()
        token = accounts.open_sign_in(session, person, 1)
        session.get_one(SignIn, accounts.digest(token)).confirmed_at = now()
        session.commit()
    engine.dispose()
    return token
