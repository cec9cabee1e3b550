"""Calls the API from its own description for longer than the suite does, by other calls each time.

.venv/bin/python -m tests.load.fuzz_api [calls of each way]
"""

import sys
import tempfile
import time
from pathlib import Path

from tests.fuzz.programs import fuzz, key_in
from tests.shops import OpenShop, who
from webapp.app import make_app
from webapp.db import Database, migrate
from webapp.models import Role
from webapp.settings import Settings
from webapp.shop.people import accounts
from webapp.shop.settings.setting_up import FirstRun, set_up

PASSWORD = "four short ash sticks"


def main(examples: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/shop.sqlite3"
        migrate(url)
        database = Database(url)
        with database.write() as session:
            asked = FirstRun(shop_name="A", owner_name="B", sign_in_name="owner", password=PASSWORD)
            owner = who(set_up(session, asked))
            maker = who(accounts.add_person(session, owner, "Tam", "tam", PASSWORD, Role.MAKER))
        app = make_app(Settings(data=Path(folder), database_url=url))
        key = key_in(OpenShop(database, owner, maker, owner, owner))
        began = time.perf_counter()
        calls = fuzz(app, key, examples, derandomize=False)
        taken = time.perf_counter() - began
        database.close()
    print(f"{calls} calls in {taken:.0f} s: no fault of ours, every answer as it is described")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
