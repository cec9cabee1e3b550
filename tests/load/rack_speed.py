"""How quick the rack and the blanks' screens are with 1,000 and with 100,000 blanks on record. Prints a table.

    python -m tests.load.rack_speed [--blanks 1000 100000] [--working 300] [--database postgresql+psycopg://...]

The blanks are written straight into the tables, in the shape that the shop's rules leave them in. `--working` is how
many of them are in work (0: all of them); the rest is finished. A database that is named must be empty and is filled.
"""

import argparse
import random
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from tests.blanks import FLUTE, pattern as make_pattern
from tests.shops import ORIGIN, PASSWORD
from webapp import db
from webapp.app import make_app
from webapp.models import Blank, BlankStatus, BlankStep, Species, Stage, StepState
from webapp.pages.frame.cookies import SIGN_IN as COOKIE
from webapp.settings import Settings
from webapp.shop.people import accounts
from webapp.shop.people.accounts import Who
from webapp.shop.routings.built_in import steps_for
from webapp.shop.settings.setting_up import FirstRun, set_up

KEYS = ("A4", "G4", "F#4", "C5", "E4", "D4")
AT_ONCE = 2_000
Took = tuple[float, float]
DRAWN = ("bore", "glue-up", "flue", "window", "block", "turned", "hole-1")


def fill(url: str, count: int, working: int) -> str:
    """A migrated shop with this many blanks; returns the token of the owner's sign-in."""
    db.migrate(url)
    database = db.Database(url)
    with database.write() as session:
        asked = FirstRun(shop_name="Alder Lane Flutes", owner_name="Ines", sign_in_name="ines", password=PASSWORD)
        person = set_up(session, asked)
        assert person.id is not None
        who = Who(person.id, person.name, person.role, asked.units)
        token = accounts.open_sign_in(session, person, 30)
        revisions = {key: make_pattern(session, who, key) for key in KEYS}
        species = list(session.exec(select(Species)))
        write(session, who, revisions, species, count, working)
    with database.engine.connect() as connection:
        connection.exec_driver_sql("ANALYZE")
        connection.commit()
    database.close()
    return token


def write(
    session: Session, who: Who, revisions: dict[str, int], species: list[Species], count: int, working: int
) -> None:
    chance = random.Random(7)
    wood = {one.id: one for one in species if one.id is not None}
    template = {one.id: [row.model_dump(exclude={"id"}) for row in steps_for(1, FLUTE, one)] for one in species}
    last = len(template[species[0].id]) - 1
    for first in range(1, count + 1, AT_ONCE):
        numbers = range(first, min(first + AT_ONCE, count + 1))
        blanks, steps = [], []
        for number in numbers:
            key = chance.choice(KEYS)
            wood_id = chance.choice(list(wood))
            routing = template[wood_id]
            # The newest are in work.
            in_work = not working or number > count - working
            at = chance.randrange(last) if in_work else last + 1
            waiting = in_work and chance.random() < 0.1
            blanks.append(
                {
                    "id": number,
                    "serial": f"{number:06d}",
                    "revision_id": revisions[key],
                    "species_id": wood_id,
                    "key": key,
                    "status": BlankStatus.IN_WORK if in_work else BlankStatus.FINISHED,
                    "stage": routing[at]["stage"] if in_work else Stage.FINISHING,
                    "due_on": date.today() + timedelta(days=chance.randrange(-5, 200))
                    if chance.random() < 0.7
                    else None,
                    "waits_for": "cure" if waiting else None,
                    "waits_until": datetime.now(UTC) + timedelta(minutes=chance.randrange(300, 9999))
                    if waiting
                    else None,
                    "next_name": routing[at]["name"] if in_work else None,
                    "next_kind": routing[at]["kind"] if in_work else None,
                    "opened_at": datetime.now(UTC) - timedelta(minutes=40 * (count - number)),
                    "finished_at": None if in_work else datetime.now(UTC) - timedelta(minutes=20 * (count - number)),
                    "opened_by": who.id,
                    "version": 1,
                }
            )
            # Of most blanks only the steps that a drawing asks for: six times as many rows would say no more.
            for index, row in enumerate(routing):
                if (working and in_work) or row["code"] in DRAWN:
                    state = StepState.PASSED if index < at else StepState.OPEN
                    steps.append({**row, "blank_id": number, "state": state})
        session.execute(sa.insert(Blank), blanks)
        session.execute(sa.insert(BlankStep), steps)
    session.commit()


def median_ms(act: Callable[[], Any], times: int = 21) -> Took:
    """Median time by the clock and of the processor; the first is worth little on a busy machine."""
    for _ in range(3):
        act()
    by_clock, of_processor = [], []
    for _ in range(times):
        before, worked = time.perf_counter(), time.process_time()
        act()
        by_clock.append(time.perf_counter() - before)
        of_processor.append(time.process_time() - worked)
    return 1000 * statistics.median(by_clock), 1000 * statistics.median(of_processor)


def measure(url: str, token: str, folder: Path, count: int) -> Iterator[tuple[str, Took]]:
    """Each screen and its median times in ms, through the whole application, the test client's own work included."""
    app = make_app(Settings(data=folder, database_url=url))
    with TestClient(app, headers={"origin": ORIGIN}) as client:
        client.cookies.set(COOKIE, token)
        page = client.get("/")
        assert page.status_code == 200, page.text[:300]
        mark = page.text.split('data-mark="')[1].split('"')[0]

        def ask(address: str, status: int = 200, **headers: str) -> Callable[[], None]:
            def act() -> None:
                assert client.get(address, headers=headers).status_code == status

            return act

        yield "the rack", median_ms(ask("/"))
        yield "the rack, nothing new", median_ms(ask(f"/?mark={mark}", 204, **{"hx-request": "true"}))
        yield "blanks in work", median_ms(ask("/blanks"))
        yield "blanks, all of them", median_ms(ask("/blanks?status=all"))
        yield "blanks, awaiting tuning", median_ms(ask("/blanks?waiting=tuning"))
        yield "one blank", median_ms(ask(f"/blanks/{count // 2:06d}"))
        yield "glue-up", median_ms(ask("/glue-up"))
        yield "bench", median_ms(ask("/bench"))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--blanks", type=int, nargs="+", default=[1_000, 100_000])
    parser.add_argument("--working", type=int, nargs="+", default=[300, 0], help="how many are in work; 0: all")
    parser.add_argument(
        "--database", help="an empty database to fill instead of SQLite files; one --blanks, one --working"
    )
    asked = parser.parse_args()
    for working in asked.working:
        found: dict[str, dict[int, Took]] = {}
        for count in asked.blanks:
            with tempfile.TemporaryDirectory() as folder:
                url = asked.database or f"sqlite:///{Path(folder) / 'shop.sqlite3'}"
                before = time.perf_counter()
                token = fill(url, count, working)
                print(
                    f"{count} blanks, {working or 'all'} in work: written in {time.perf_counter() - before:.0f} s",
                    flush=True,
                )
                for screen, took in measure(url, token, Path(folder), count):
                    found.setdefault(screen, {})[count] = took
        heads = "".join(f"{f'{count:,}':>12}{'processor':>11}" for count in asked.blanks)
        print(f"\n{'median ms, blanks on record:':28}{heads}{'ratio':>9}")
        for screen, times in found.items():
            row = [times[count] for count in asked.blanks]
            cells = "".join(f"{clock:12.1f}{processor:11.1f}" for clock, processor in row)
            print(f"{screen:28}{cells}{row[-1][1] / row[0][1]:9.2f}")
        print()


if __name__ == "__main__":
    main()
