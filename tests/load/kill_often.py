"""Kills a shop's server many hundred times under load and prints what was lost.

python -m tests.load.kill_often [--kills 500] [--seconds 330] [--kind sqlite postgresql]
"""

import argparse
import sys
import tempfile
import time
from contextlib import nullcontext
from pathlib import Path

from tests.durability.killing import Outcome, kill_again_and_again
from tests.load.serving import empty_postgresql, machine
from webapp.db import Database, migrate
from webapp.shop.settings.setting_up import FirstRun, set_up

PEOPLE = 6


def kill(url: str, folder: Path, kills: int, seconds: float) -> Outcome:
    migrate(url)
    database = Database(url)
    with database.write() as session:
        asked = FirstRun(shop_name="A", owner_name="B", sign_in_name="owner", password="four short ash sticks")
        person_id = set_up(session, asked).id
    database.close()
    assert person_id is not None
    return kill_again_and_again(folder, url, person_id, kills, PEOPLE, seed=int(time.time()), seconds=seconds)


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
            place = empty_postgresql() if kind == "postgresql" else nullcontext(f"sqlite:///{folder / 'shop.sqlite3'}")
            with place as url:
                began = time.perf_counter()
                found = kill(url, folder, asked.kills, asked.seconds)
                taken = time.perf_counter() - began
        print(f"{kind}: {found.kills} kills in {taken:.0f} s, {PEOPLE} people writing all the time; {machine()}")
        print(f"forms sent {found.sent}, acknowledged {found.acknowledged}")
        print(f"lost {len(found.lost)}, carried out twice {len(found.doubled)}, odd answers {len(found.odd)}")
        print(f"database found unsound {len(found.unsound)} times", flush=True)
        wrong += len(found.lost) + len(found.doubled) + len(found.odd) + len(found.unsound)
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
