"""The main pages, and one form, at 1,000 and at 100,000 blanks beside each other. Prints a table.

    python -m tests.load.pages_by_size [--kind sqlite postgresql] [--blanks 1000 100000] [--working 300]

Shops as `rack_speed` makes them, with an order for every other blank, its customers, and lots of stock beside. Goal:
under 50 ms at the server, and no more than 1.5 times as long in the larger shop.
"""

import argparse
import secrets
import tempfile
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, nullcontext
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import sqlalchemy as sa
from fastapi.testclient import TestClient
from sqlmodel import select

from tests.load.rack_speed import KEYS, Took, fill, median_ms
from tests.load.serving import empty_postgresql, machine
from tests.shops import ORIGIN
from webapp import db
from webapp.app import make_app
from webapp.models import (
    Adhesive,
    Customer,
    GluedBlank,
    GlueUp,
    Order,
    OrderedFlute,
    OrderStatus,
    Species,
    StockItem,
    StockKind,
    StockMovement,
    now,
)
from webapp.models.search.searching import index_all
from webapp.pages.frame.cookies import SIGN_IN
from webapp.settings import Settings

GOAL, RATIO = 50.0, 1.5
OVER = (OrderStatus.HANDED_OVER, OrderStatus.WITHDRAWN)
OPEN = [status for status in OrderStatus if status not in OVER]


def surround(url: str, blanks: int) -> None:
    """Orders, their customers and lots of stock, as many as a shop with so many blanks has; the search filled."""
    database = db.Database(url)
    count, people, lots_there = blanks // 2, max(200, blanks // 10), max(200, blanks // 100)
    with database.write() as session:
        wood = session.exec(select(Species.id)).first()
        ids = range(1, count + 1)
        everyone = [{"id": n, "name": f"Customer {n}", "created_at": now()} for n in range(1, people + 1)]
        session.execute(sa.insert(Customer), everyone)
        orders = [
            {
                "id": n,
                "number": n,
                "customer_id": 1 + n % people,
                # As many open ones in either: a page shows as many rows.
                "status": OPEN[n % 5] if n >= count - 60 else OVER[n % 33 == 0],
                "taken_on": date.today() - timedelta(hours=60 + count - n),
                "due_on": date.today() + timedelta(days=n % 90)
                if n >= count - 60
                else date.today() - timedelta(n % 999),
                "currency": "EUR",
            }
            for n in ids
        ]
        session.execute(sa.insert(Order), orders)
        flutes = [
            {"id": n, "order_id": n, "key": KEYS[n % 6], "scale": "minor pentatonic", "species_id": wood}
            | {"price": Decimal(300)}
            for n in ids
        ]
        session.execute(sa.insert(OrderedFlute), flutes)
        session.execute(sa.text("UPDATE blank SET ordered_flute_id = id / 2 WHERE id % 2 = 0"))
        glue = session.exec(select(Adhesive.id)).first()
        glued = [
            {"id": n, "adhesive_id": glue, "temperature": 20.0, "by": 1, "spread_at": now(), "clamped_at": now()}
            | {"out_at": now(), "cured_at": now(), "open_minutes": 8, "clamp_minutes": 60, "cure_minutes": 1440}
            for n in range(1, blanks // 5)
        ]
        session.execute(sa.insert(GlueUp), glued)
        places = [
            {"glue_up_id": 1 + n // 5, "blank_id": n, "taken_out_at": now(), "taken_out_by": 1}
            for n in range(1, blanks - 300)
        ]
        session.execute(sa.insert(GluedBlank), places)
        lots = [
            {"id": n, "kind": StockKind.CORD, "name": f"Cord {n}", "unit": "m", "used_up": n > 40}
            for n in range(1, lots_there + 1)
        ]
        session.execute(sa.insert(StockItem), lots)
        moves = [
            {"item_id": n, "quantity": 5.0, "reason": "received", "at": now(), "by": 1}
            for n in range(1, lots_there + 1)
            for _ in "abc"
        ]
        session.execute(sa.insert(StockMovement), moves)
        index_all(session.connection())
        session.commit()
    if database.engine.dialect.name == "postgresql":
        # As its own housekeeping leaves a database that was filled over years.
        with database.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.exec_driver_sql("VACUUM ANALYZE")
    else:
        database.look_after()
    database.close()


def measure(url: str, token: str, folder: Path, blanks: int) -> Iterator[tuple[str, Took]]:
    app = make_app(Settings(data=folder, database_url=url))
    with TestClient(app, headers={"origin": ORIGIN}) as client:
        client.cookies.set(SIGN_IN, token)

        def ask(address: str) -> Callable[[], None]:
            def act() -> None:
                answer = client.get(address)
                assert answer.status_code == 200, f"{address}: {answer.status_code}"

            return act

        def receive() -> None:
            form = {"quantity": "1", "once": secrets.token_urlsafe(16)}
            assert client.post("/stock/1/receive", data=form, follow_redirects=False).status_code == 303

        newest = f"{blanks:06d}"
        pages = {
            "the rack": "/",
            "orders": "/orders",
            "orders, all": "/orders?show=all",
            "an order": "/orders/5",
            "blanks, all": "/blanks?status=all",
            "a blank": f"/blanks/{newest}",
            "stock": "/stock",
            "search, a serial": f"/search?q={newest}",
            "search, a word": "/search?q=walnut",
            "patterns": "/patterns",
            "a pattern": "/patterns/1",
            "glue-up": "/glue-up",
            "bench": "/bench",
            "customers": "/customers",
            "dates from the queue": "/promise",
            "cutting plans": "/stock/plans",
            "learning": "/shop/learning",
            "diary": "/shop/diary",
            "guide": "/guide",
        }
        for name, address in pages.items():
            yield name, median_ms(ask(address), 11)
        yield "POST a receipt of stock", median_ms(receive, 11)


def empty(kind: str, folder: Path) -> AbstractContextManager[str]:
    """The address of an empty database of this kind."""
    return empty_postgresql() if kind == "postgresql" else nullcontext(f"sqlite:///{folder / 'shop.sqlite3'}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--blanks", type=int, nargs=2, default=[1_000, 100_000])
    parser.add_argument("--working", type=int, default=300, help="how many are in work; 0: all of them")
    parser.add_argument("--kind", nargs="+", default=["sqlite", "postgresql"])
    asked = parser.parse_args()
    for kind in asked.kind:
        found: dict[str, list[Took]] = {}
        for count in asked.blanks:
            with tempfile.TemporaryDirectory() as folder, empty(kind, Path(folder)) as url:
                token = fill(url, count, asked.working)
                surround(url, count)
                for name, took in measure(url, token, Path(folder), count):
                    found.setdefault(name, []).append(took)
        table(kind, asked.blanks, found)


def table(kind: str, counts: list[int], found: dict[str, list[Took]]) -> None:
    heads = "".join(f"{f'{count:,}':>12}{'processor':>11}" for count in counts)
    print(f"\n{kind + ', median ms, blanks:':28}{heads}{'ratio':>9}")
    for name, (small, large) in found.items():
        # PostgreSQL works in a process of its own: there only the clock sees it.
        which = 1 if kind == "sqlite" else 0
        ratio = large[which] / small[which]
        remark = "" if large[which] < GOAL and ratio <= RATIO else "  misses the goal"
        print(f"{name:28}{small[0]:12.1f}{small[1]:11.1f}{large[0]:12.1f}{large[1]:11.1f}{ratio:9.2f}{remark}")
    print(machine(), flush=True)


if __name__ == "__main__":
    main()
