"""A shop with work at its first steps, and its maker signing in on a phone."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

from playwright.sync_api import Page
from sqlmodel import Session, col, func, select

from tests import blanks as made
from webapp.db import Database
from webapp.models import StepRecord, Units
from webapp.settings import Settings
from webapp.shop.people.accounts import Who
from webapp.shop.settings.setting_up import FirstRun, set_up

PASSWORD = "four short ash sticks"


@contextmanager
def two_at_work(settings: Settings) -> Iterator[tuple[Session, Who]]:
    """Blank 0001 before its first gauge, 0002 at its first step; a session to look with, and the owner."""
    database = Database(settings.database)
    with database.write() as session:
        asked = FirstRun(shop_name="Alder Lane Flutes", owner_name="Ines", sign_in_name="ines", password=PASSWORD)
        person = set_up(session, asked)
        assert person.id is not None
        who = Who(person.id, person.name, person.role, Units.MM)
        first, _ = made.opened(session, who, 2, made.order(session, due_on=date(2031, 5, 2)))
        made.bring_to(session, who, first, "bore-gauge")
    with database.read() as session:
        yield session, who
    database.close()


def entries(session: Session, blank_id: int = 1) -> int:
    """How many entries of steps this blank has now."""
    session.rollback()
    return session.exec(select(func.count(col(StepRecord.id))).where(StepRecord.blank_id == blank_id)).one()


def sign_in(page: Page) -> None:
    page.get_by_label("Name").fill("ines")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
