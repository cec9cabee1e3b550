"""The search in the head, as one types, in a shop with 100,000 blanks on record. Prints a table.

    python -m tests.load.search_speed [--blanks 100000]

What is typed letter by letter: a serial, a wood, a key, a customer's name, words of two kinds, nothing that is there.
Goal: under 50 ms of the processor at the server, the test client's own work included.
"""

import argparse
import tempfile
from collections.abc import Callable
from pathlib import Path

from fastapi.testclient import TestClient

from tests.load.pages_by_size import surround
from tests.load.rack_speed import fill, median_ms
from tests.shops import ORIGIN
from webapp.app import make_app
from webapp.pages.frame.cookies import SIGN_IN
from webapp.settings import Settings

GOAL = 50.0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--blanks", type=int, default=100_000)
    blanks = parser.parse_args().blanks
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'shop.sqlite3'}"
        token = fill(url, blanks, 300)
        surround(url, blanks)
        app = make_app(Settings(data=Path(folder), database_url=url))
        with TestClient(app, headers={"origin": ORIGIN, "HX-Request": "true"}) as client:
            client.cookies.set(SIGN_IN, token)
            print(f"{f'typed, of {blanks:,} blanks':32}{'clock, ms':>12}{'processor, ms':>16}")
            for whole in (f"{blanks - 7:06d}", "black walnut", "F#4", "customer 12", "walnut finished a4", "zzz"):
                for end in sorted({1, 2, 3, len(whole)}):
                    typed = whole[:end].strip()
                    clock, processor = median_ms(_ask(client, typed), 9)
                    remark = "" if processor < GOAL else "  misses the goal"
                    print(f"{typed:32}{clock:12.1f}{processor:16.1f}{remark}")


def _ask(client: TestClient, typed: str) -> Callable[[], None]:
    def ask() -> None:
        answer = client.get("/search/at-hand", params={"q": typed})
        assert answer.status_code == 200, answer.status_code

    return ask


if __name__ == "__main__":
    main()
