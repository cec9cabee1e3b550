"""A shop of the first schema, with rows in every table, comes up to the newest, loses nothing and goes on working."""

import shutil
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command
from fastapi.testclient import TestClient
from sqlmodel import col, select

from tests.blanks import passed
from tests.databases import sqlite_url
from tests.migrations import old_shop
from tests.shops import ORIGIN, PASSWORD, quick_hashing
from webapp import db
from webapp.app import make_app
from webapp.db import Database
from webapp.models import Blank, BlankStep, Pattern, PatternRevision, Person, RoutingVersion, SearchRow, StepState
from webapp.models.search import searching as todays_search
from webapp.pages.frame.cookies import SIGN_IN
from webapp.settings import Settings
from webapp.shop.people import accounts
from webapp.shop.production import opening as blanks

PAGES = (
    "/", "/orders", "/orders/1", "/customers", "/blanks", "/blanks?status=all", "/patterns", "/patterns/1",
    "/patterns/1/1", "/glue-up", "/bench", "/stock", "/stock/1", "/shop", "/shop/routings",
)  # fmt: skip


@pytest.fixture
def old(database_url: str, migrated_sqlite_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """The URL of a shop as the first release left it."""
    quick_hashing(monkeypatch)
    written = tmp_path / "written.db"
    shutil.copyfile(migrated_sqlite_file, written)
    old_shop.write_with_todays_program(sqlite_url(written), PASSWORD)
    old_shop.write_as_the_first_program_did(sqlite_url(written), database_url)
    return database_url


def test_an_old_shop_comes_up_goes_back_and_works_on(old: str, tmp_path: Path) -> None:
    tables = old_shop.of_the_first_schema(old)
    before = old_shop.rows(old, tables)
    assert not [name for name, rows in before.items() if not rows], "every table of the first schema has rows"
    assert db.migrate(old, tmp_path / "backups") is True
    assert old_shop.rows(old, tables) == before
    command.downgrade(db.alembic_config(old), old_shop.FIRST)
    assert old_shop.rows(old, old_shop.of_the_first_schema(old)) == before
    assert db.migrate(old, tmp_path / "backups") is True
    assert old_shop.rows(old, tables) == before
    _has_sensible_values(old)
    _works_on(old, tmp_path)


def test_an_old_shop_comes_up_when_a_newer_program_searches_more_columns(
    old: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def of_a_column_to_come(connection: sa.Connection, ids: list[int]) -> dict[int, todays_search.Text]:
        asked = sa.text("SELECT id, name, nickname FROM customer")
        return {row.id: (True, [row.name, row.nickname], []) for row in connection.execute(asked) if row.id in ids}

    monkeypatch.setitem(todays_search._READERS, "customer", of_a_column_to_come)
    assert db.migrate(old, tmp_path / "backups") is True
    assert db.schema_revision(old) == db.newest_revision()
    database = Database(old)
    with database.read() as session:
        words = session.exec(select(SearchRow.words).where(SearchRow.kind == "customer")).all()
    database.close()
    assert words == ["#customer #open rosa lindqvist rosalindqvist"]


def _has_sensible_values(url: str) -> None:
    """New columns of old rows say nothing that nobody said."""
    database = Database(url)
    with database.read() as session:
        for blank in session.exec(select(Blank)):
            assert (blank.hands_id, blank.routing_version_id) == (None, None)
            assert (blank.defects_open, blank.grave_defect) == (0, False)
        assert not any(session.exec(select(BlankStep.photo)))
        assert set(session.exec(select(Pattern.routing_id))) == {None}
        assert not any(session.exec(select(Person.code_secret)))
        found = session.connection().execute(sa.text("SELECT kind, count(*) FROM search_row GROUP BY kind")).all()
        assert {kind for kind, _ in found} == {"blank", "customer", "lot", "order", "pattern"}
    database.close()


def _works_on(url: str, folder: Path) -> None:
    app = make_app(Settings(data=folder, database_url=url))
    with TestClient(app, headers={"origin": ORIGIN}) as browser:
        database = app.state.database
        with database.write() as session:
            owner = session.exec(select(Person).where(Person.sign_in_name == "ines")).one()
            browser.cookies.set(SIGN_IN, accounts.open_sign_in(session, owner, 1))
            serials = session.exec(select(Blank.serial).order_by(col(Blank.id))).all()
        of_blanks = [f"/blanks/{serial}" for serial in serials] + [f"/bench/{serials[0]}"]
        for address in (*PAGES, *of_blanks, f"/blanks/{serials[0]}/traveler.pdf"):
            assert browser.get(address).status_code == 200, address
        # Words of an old order's customer and of an old entry's note are found.
        for words, said in (
            ("lindqvist", "Rosa Lindqvist"),
            ("walnut halves", "Walnut, halves"),
            (serials[2], serials[2]),
        ):
            assert said in browser.get("/search", params={"q": words}).text, words
        with database.write() as session:
            who = accounts.Who(owner.id, owner.name, owner.role, None)
            old_blank = session.exec(select(Blank).where(Blank.serial == serials[2])).one()
            upcoming = session.exec(
                select(BlankStep)
                .where(BlankStep.blank_id == old_blank.id, BlankStep.state == StepState.OPEN)
                .order_by(col(BlankStep.position))
            ).first()
            passed(session, who, old_blank, upcoming.code)
            revision = session.exec(select(PatternRevision)).first()
            [fresh] = blanks.open_blanks(session, who, None, revision.id, old_blank.species_id, None, 1)
            # What is opened from now on knows its routing: the built-in one, as the old blanks went by.
            assert session.exec(select(RoutingVersion.id)).all() == [fresh.routing_version_id]
        assert browser.get(f"/blanks/{fresh.serial}").status_code == 200
        assert browser.get(f"/blanks/{serials[2]}").status_code == 200
