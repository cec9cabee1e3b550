"""Kills a shop's server many hundred times under load and prints what was lost.

.venv/bin/python -m tests.load.kill_often [kills]
"""

import sys
import tempfile
import time
from pathlib import Path

from tests.durability.killing import kill_again_and_again
from webapp.db import Database, migrate
from webapp.shop.setting_up import FirstRun, set_up


def main(kills: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/shop.sqlite3"
        migrate(url)
        database = Database(url)
        with database.write() as session:
            asked = FirstRun(shop_name="A", owner_name="B", sign_in_name="owner", password="four short ash sticks")
            person_id = set_up(session, asked).id
        database.close()
        assert person_id is not None
        began = time.perf_counter()
        found = kill_again_and_again(Path(folder), url, person_id, kills, people=6, seed=int(began))
        taken = time.perf_counter() - began
    print(f"{found.kills} kills in {taken:.0f} s, 6 people writing all the time")
    print(f"forms sent {found.sent}, acknowledged {found.acknowledged}")
    print(f"lost {len(found.lost)}, carried out twice {len(found.doubled)}, odd answers {len(found.odd)}")
    print(f"database found unsound {len(found.unsound)} times")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
