"""Kills a shop's server many hundred times under load and prints what was lost.

python -m tests.load.kill_often [--kills 500] [--seconds 330] [--kind sqlite postgresql postgresql-itself]
"""

import argparse
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests import postgresql
from tests.durability.killing import Outcome, kill_again_and_again
from tests.load.serving import empty_postgresql, machine
from webapp.db import Database, migrate
from webapp.shop.settings.setting_up import FirstRun, set_up

PEOPLE = 6


def kill(url: str, folder: Path, kills: int, seconds: float, server: postgresql.Killable | None) -> Outcome:
    migrate(url)
    database = Database(url)
    with database.write() as session:
        asked = FirstRun(shop_name="A", owner_name="B", sign_in_name="owner", password="four short ash sticks")
        person_id = set_up(session, asked).id
    database.close()
    assert person_id is not None
    seed = int(time.time())
    return kill_again_and_again(folder, url, person_id, kills, PEOPLE, seed, seconds, server)


@contextmanager
def place_of(kind: str, folder: Path) -> Iterator[tuple[str, postgresql.Killable | None]]:
    """The address of an empty database, and the server where it is that which is killed."""
    if kind == "postgresql-itself":
        with postgresql.killable_server() as server:
            yield server.url, server
    elif kind == "postgresql":
        with empty_postgresql() as url:
            yield url, None
    else:
        yield f"sqlite:///{folder / 'shop.sqlite3'}", None


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=500)
    parser.add_argument("--seconds", type=float, default=330.0, help="stop after so long, with fewer kills")
    parser.add_argument("--kind", nargs="+", default=["sqlite"])
    asked = parser.parse_args()
    wrong = 0
    for kind in asked.kind:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            with place_of(kind, folder) as (url, server):
                began = time.perf_counter()
                found = kill(url, folder, asked.kills, asked.seconds, server)
                taken = time.perf_counter() - began
        print(f"{kind}: {found.kills} kills in {taken:.0f} s, {PEOPLE} people writing all the time; {machine()}")
        print(f"forms sent {found.sent}, acknowledged {found.acknowledged}")
        print(f"lost {len(found.lost)}, carried out twice {len(found.doubled)}, odd answers {len(found.odd)}")
        print(f"database found unsound {len(found.unsound)} times", flush=True)
        wrong += len(found.lost) + len(found.doubled) + len(found.odd) + len(found.unsound)
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
