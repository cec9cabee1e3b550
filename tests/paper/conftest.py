"""The press that all tests of a process print on; and travelers to look at."""

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from tests.databases import sqlite_url
from tests.paper.blanks import LONGEST, Wanted, put_on_the_bench
from webapp.db import Database
from webapp.models import Paper, Units
from webapp.paper.press.workers import Press
from webapp.paper.traveler.content import traveler
from webapp.paper.traveler.parts import Traveler
from webapp.paper.traveler.sheet import traveler_job
from webapp.shop.settings.setting_up import FirstRun, set_up

ADDRESS = "http://192.168.1.20:8000"


@pytest.fixture(scope="session")
def press(warm_press: Press) -> Press:
    return warm_press


@dataclass(frozen=True)
class Printed:
    """What was sent to the press, and what came out."""

    sent: Traveler
    pdf: bytes


@pytest.fixture(scope="session")
def printed(
    migrated_sqlite_file: Path, tmp_path_factory: pytest.TempPathFactory, press: Press
) -> Iterator[Callable[[str, Paper, Units], Printed]]:
    """Travelers by kind (ordinary, longest), sheet and units, each set once."""
    folder = tmp_path_factory.mktemp("travelers")

    @cache
    def made(kind: str, paper: Paper, units: Units) -> Printed:
        copy = folder / f"{kind}-{paper}-{units}.db"
        shutil.copyfile(migrated_sqlite_file, copy)
        database = Database(sqlite_url(copy))
        wanted = LONGEST if kind == "longest" else Wanted(steps=13, readings=True)
        with database.write() as session:
            asked = FirstRun(
                shop_name="Alder Lane Flutes",
                owner_name="Ines Varga",
                sign_in_name="ines",
                password="four short ash sticks",
                paper=paper,
                units=units,
            )
            set_up(session, asked)
        with database.write() as session:
            put_on_the_bench(session, wanted)
        with database.read() as session:
            sent = traveler(session, wanted.serial, units, ADDRESS)
        database.close()
        return Printed(sent, press.print(traveler_job(sent)))

    yield made
