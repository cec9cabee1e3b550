"""A small shop to test with, on both databases: people of each role, woods, stock, and signed-in browsers."""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import select

from tests.databases import settled, sqlite_url
from tests.lending import Lending
from tests.postgresql import Server
from webapp.app import make_app
from webapp.db import Database
from webapp.models import Person, Role, Species, Units
from webapp.paper.press.workers import Press
from webapp.settings import Settings
from webapp.shop.people import accounts
from webapp.shop.people.accounts import Who
from webapp.shop.settings.setting_up import FirstRun, set_up

PASSWORD = "four short ash sticks"
FIRST_RUN = FirstRun(
    shop_name="Alder Lane Flutes",
    owner_name="Ines Varga",
    sign_in_name="ines",
    password=PASSWORD,
    units=Units.MM,
    currency="EUR",
)
ORIGIN = "http://testserver"


@dataclass(frozen=True)
class OpenShop:
    """A shop that is set up, its people, and where its database lies."""

    database: Database
    owner: Who
    maker: Who
    office: Who
    viewer: Who

    def species(self, name: str = "black walnut") -> int:
        """The id of one of the woods every shop starts with."""
        with self.database.read() as session:
            found = session.exec(select(Species.id).where(Species.name == name)).one()
        assert found is not None
        return found


@pytest.fixture
def shop_database(migrated_database_url: str) -> Iterator[Database]:
    """An empty, migrated database; the test runs on SQLite and on PostgreSQL."""
    database = Database(migrated_database_url)
    yield database
    database.close()


@pytest.fixture(scope="session")
def open_migrated_sqlite_file(migrated_sqlite_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file with the shop below, to copy."""
    path = tmp_path_factory.mktemp("open") / "template.db"
    shutil.copyfile(migrated_sqlite_file, path)
    open_the_shop(sqlite_url(path))
    return settled(path)


@pytest.fixture(scope="session")
def open_postgresql_lending(postgresql_server: Server, migrated_postgresql_template: str) -> Iterator[Lending]:
    """PostgreSQL databases with the shop below, each for one test at a time."""
    template = postgresql_server.create(migrated_postgresql_template)
    open_the_shop(postgresql_server.url(template))
    lending = Lending(postgresql_server, template)
    yield lending
    lending.close()


def open_the_shop(url: str) -> None:
    """A shop after its first run, with one person of each role, all with the same password."""
    database = Database(url)
    with pytest.MonkeyPatch.context() as patch, database.write() as session:
        quick_hashing(patch)
        owner = who(set_up(session, FIRST_RUN))
        for role, name in [(Role.MAKER, "Tam"), (Role.OFFICE, "Bo"), (Role.VIEWER, "Kit")]:
            accounts.add_person(session, owner, name, name.lower(), PASSWORD, role)
    database.close()


@pytest.fixture
def open_shop(shop_database: Database, monkeypatch: pytest.MonkeyPatch) -> OpenShop:
    """A shop after its first run, with one person of each role: the test's database is a copy of it."""
    quick_hashing(monkeypatch)
    with shop_database.read() as session:
        people = {person.role: who(person) for person in session.exec(select(Person)).all()}
    return OpenShop(shop_database, people[Role.OWNER], people[Role.MAKER], people[Role.OFFICE], people[Role.VIEWER])


@pytest.fixture
def owner(open_shop: OpenShop) -> Who:
    return open_shop.owner


@pytest.fixture
def maker(open_shop: OpenShop) -> Who:
    return open_shop.maker


@pytest.fixture
def viewer(open_shop: OpenShop) -> Who:
    return open_shop.viewer


class WarmPress(Press):
    """A press that a shop which closes leaves open for the next one: its worker takes a second to start."""

    def close(self) -> None:
        pass


@pytest.fixture(scope="session")
def warm_press() -> Iterator[Press]:
    press = WarmPress(workers=1)
    yield press
    super(WarmPress, press).close()


@pytest.fixture
def app(migrated_database_url: str, tmp_path: Path, warm_press: Press) -> FastAPI:
    return make_app(Settings(data=tmp_path, database_url=migrated_database_url), warm_press)


@pytest.fixture
def stranger(app: FastAPI) -> Iterator[TestClient]:
    """A browser where nobody is signed in."""
    with TestClient(app, headers={"origin": ORIGIN}, raise_server_exceptions=True) as browser:
        yield browser


@pytest.fixture
def client(open_shop: OpenShop, stranger: TestClient) -> TestClient:
    """A browser where the owner is signed in."""
    return signed_in(stranger, "ines")


def signed_in(browser: TestClient, name: str) -> TestClient:
    """The same browser, now signed in as this person."""
    browser.cookies.clear()
    answer = browser.post("/sign-in", data={"sign_in_name": name, "password": PASSWORD}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return browser


def who(person: Person, units: Units = Units.MM) -> Who:
    assert person.id is not None
    return Who(person.id, person.name, person.role, units)


def quick_hashing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Argon2 at its lowest cost: still the real thing, but a test need not wait for it."""
    from argon2 import PasswordHasher

    from webapp.security import passwords

    hasher = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(passwords, "_hasher", hasher)
    monkeypatch.setattr(passwords, "_NOBODY", hasher.hash("no one has this password"))
