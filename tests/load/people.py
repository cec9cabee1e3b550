"""People at work at once on a real server: mixed pages and writes, every write checked in the database at the end.

    python -m tests.load.people [--people 50] [--seconds 120] [--kind sqlite postgresql] [--pause 1.0]

Each person has a sign-in of their own, looks at pages and writes: stock received, steps recorded, customers edited.
Prints the times by page, what was lost or doubled, and the server's memory over the run.
"""

import argparse
import os
import random
import secrets
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from html import unescape
from itertools import chain
from pathlib import Path
from re import search

import httpx2
import sqlalchemy as sa
from sqlmodel import col, select

from seed_demo.make import make_demo
from tests.durability.test_several_processes import free_port
from tests.postgresql import running_server
from webapp.db import Database, sqlite_path
from webapp.keeping.moving import move
from webapp.models import (
    Blank,
    BlankStatus,
    BlankStep,
    Customer,
    Outcome,
    Person,
    Role,
    StepKind,
    StepRecord,
    StepState,
    StockItem,
    StockKind,
    StockMovement,
)
from webapp.shop import accounts

PAGES = (
    "/",
    "/orders",
    "/blanks",
    "/patterns",
    "/glue-up",
    "/bench",
    "/stock",
    "/customers",
    "/search?q=cedar",
    "/shop",
)
WRITES = 0.35  # share of what a person does that changes something


@dataclass
class Shop:
    """What there is to write to."""

    item_id: int
    tokens: list[str]
    steps: list[tuple[str, int]]  # a blank's serial and the step that comes next on it
    customers: list[int]
    lock: threading.Lock = field(default_factory=threading.Lock)


@dataclass
class Worker:
    """One person, until `end`."""

    number: int
    address: str
    token: str
    shop: Shop
    pause: float
    took: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    odd: Counter[str] = field(default_factory=Counter)
    received: int = 0
    recorded: list[int] = field(default_factory=list)
    edited: dict[int, list[int]] = field(default_factory=lambda: defaultdict(list))
    refused: int = 0

    def run(self, end: float) -> None:
        dice = random.Random(self.number)
        headers = {"origin": self.address, "cookie": f"flutebench={self.token}"}
        with httpx2.Client(base_url=self.address, headers=headers, timeout=60, trust_env=False) as client:
            while time.monotonic() < end:
                if dice.random() < WRITES:
                    dice.choice((self._receive, self._record, self._edit))(client, dice)
                else:
                    self._ask(client, "GET", dice.choice(PAGES))
                time.sleep(dice.random() * 2 * self.pause)

    def _ask(
        self, client: httpx2.Client, method: str, path: str, data: dict[str, str] | None = None, name: str = ""
    ) -> httpx2.Response | None:
        began = time.perf_counter()
        try:
            answer = client.request(method, path, data=data)
        except httpx2.TransportError as error:
            self.odd[f"{name or path}: {type(error).__name__}"] += 1
            return None
        self.took[name or path].append(time.perf_counter() - began)
        if answer.status_code not in (200, 303) and not (answer.status_code == 409 and method == "POST"):
            self.odd[f"{name or path}: {answer.status_code}"] += 1
        return answer

    def _receive(self, client: httpx2.Client, _dice: random.Random) -> None:
        form = {"quantity": "1", "note": f"person {self.number}", "once": secrets.token_urlsafe(16)}
        answer = self._ask(client, "POST", f"/stock/{self.shop.item_id}/receive", form, "POST stock receipt")
        self.received += answer is not None and answer.status_code == 303

    def _record(self, client: httpx2.Client, _dice: random.Random) -> None:
        with self.shop.lock:
            if not self.shop.steps:
                return
            serial, step_id = self.shop.steps.pop()
        form = {"outcome": "passed", "once": secrets.token_urlsafe(16)}
        # Sent twice, as a browser does that had no answer: it must be carried out once.
        for _ in range(2):
            answer = self._ask(client, "POST", f"/blanks/{serial}/steps/{step_id}", form, "POST step")
        if answer is not None and answer.status_code == 303:
            self.recorded.append(step_id)

    def _edit(self, client: httpx2.Client, dice: random.Random) -> None:
        """Open a customer, change the note, send it: whoever was slower gets 409."""
        customer = dice.choice(self.shop.customers)
        page = self._ask(client, "GET", f"/customers/{customer}/edit", name="GET customer, edit")
        if page is None or page.status_code != 200:
            return
        form = {
            name: unescape(found[1]) if (found := search(rf'name="{name}"[^>]*value="([^"]*)"', page.text)) else ""
            for name in ("name", "contact", "version")
        }
        form |= {"note": f"written by {self.number}: {secrets.token_hex(4)}", "once": secrets.token_urlsafe(16)}
        answer = self._ask(client, "POST", f"/customers/{customer}/edit", form, "POST customer")
        if answer is not None and answer.status_code == 303:
            self.edited[customer].append(int(form["version"]))
        self.refused += answer is not None and answer.status_code == 409


def prepare(url: str, people: int) -> tuple[Shop, dict[int, int]]:
    """Sign-ins for so many makers, and what they write to; the versions of the customers at the beginning."""
    database = Database(url)
    with database.write() as session:
        session.add(item := StockItem(kind=StockKind.CORD, name="cord for the load test", unit="m"))
        like = session.exec(select(Person)).first()
        assert like is not None
        tokens = []
        for n in range(people):
            person = Person(
                name=f"Load {n}", sign_in_name=f"load{n}", password_hash=like.password_hash, role=Role.MAKER
            )
            session.add(person)
            session.flush()
            tokens.append(accounts.open_sign_in(session, person, 1))
        plain = (
            select(Blank.serial, BlankStep.id)
            .join(Blank, col(Blank.id) == BlankStep.blank_id)
            .where(
                Blank.status == BlankStatus.IN_WORK, col(Blank.waits_for).is_(None), BlankStep.state == StepState.OPEN
            )
            .where(BlankStep.name == Blank.next_name, BlankStep.kind == StepKind.WORK, ~col(BlankStep.photo))
        )
        steps = [(serial, step_id) for serial, step_id in session.exec(plain) if step_id is not None]
        customers = session.exec(select(Customer).order_by(col(Customer.id)).limit(6)).all()
        versions = {customer.id: customer.version for customer in customers if customer.id is not None}
        item_id = item.id
        session.commit()
    database.close()
    assert item_id is not None
    return Shop(item_id, tokens, steps, list(versions)), versions


@contextmanager
def serving(url: str, folder: Path) -> Iterator[tuple[str, int]]:
    """`flutebench serve` on this database; its address and process."""
    port = free_port()
    environment = os.environ | {"FLUTEBENCH_DATA": str(folder), "FLUTEBENCH_DATABASE_URL": url}
    program = [str(Path(sys.executable).with_name("flutebench")), "serve", "--port", str(port)]
    with (folder / "log").open("w") as log:
        process = subprocess.Popen(program, env=environment, stdout=log, stderr=log)
        address = f"http://127.0.0.1:{port}"
        for _ in range(600):
            try:
                if httpx2.get(f"{address}/healthz", trust_env=False).status_code == 200:
                    break
            except httpx2.TransportError:
                time.sleep(0.1)
        try:
            yield address, process.pid
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(timeout=30)


def memory(pid: int) -> float:
    """MB that the server holds in memory."""
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    return 0.0


def check(url: str, shop: Shop, before: dict[int, int], workers: list[Worker]) -> list[str]:
    """What the database holds against what was acknowledged; the sentences that should not be."""
    database = Database(url)
    wrong = []
    with database.read() as session:
        there = session.exec(
            select(sa.func.count(), sa.func.sum(StockMovement.quantity)).where(StockMovement.item_id == shop.item_id)
        ).one()
        sent = sum(worker.received for worker in workers)
        if (there[0], there[1] or 0) != (sent, sent):
            wrong.append(f"stock: {sent} receipts acknowledged, {there[0]} on record that sum to {there[1]}")
        ids = [step for worker in workers for step in worker.recorded]
        records = session.exec(
            select(StepRecord.step_id).where(col(StepRecord.step_id).in_(ids), StepRecord.outcome == Outcome.PASSED)
        ).all()
        if sorted(records) != sorted(ids):
            wrong.append(f"steps: {len(ids)} acknowledged, {len(records)} records")
        for customer, version in before.items():
            now = session.get_one(Customer, customer).version
            # Each edit that was accepted was made on another version: none wrote over another unseen.
            edits = sorted(chain(*(worker.edited[customer] for worker in workers)))
            if edits != list(range(version, now)):
                wrong.append(f"customer {customer}: from version {version} to {now}, edits of {edits}")
        if sqlite_path(url):
            sound = session.execute(sa.text("PRAGMA quick_check")).scalar()
            if sound != "ok":
                wrong.append(f"the file is not sound: {sound}")
    database.close()
    return wrong


def report(workers: list[Worker], seconds: float) -> None:
    took: dict[str, list[float]] = defaultdict(list)
    for worker in workers:
        for name, times in worker.took.items():
            took[name] += times
    print(f"{'ms':28}{'asked':>8}{'p50':>9}{'p95':>9}{'p99':>9}")
    for name, times in [*sorted(took.items()), ("all", list(chain(*took.values())))]:
        cuts = [1000 * q for q in (statistics.quantiles(times, n=100) if len(times) > 1 else times * 99)]
        print(f"{name:28}{len(times):8}{cuts[49]:9.1f}{cuts[94]:9.1f}{cuts[98]:9.1f}")
    print(f"{sum(map(len, took.values())) / seconds:.1f} requests a second")


def run(url: str, folder: Path, asked: argparse.Namespace) -> list[str]:
    shop, before = prepare(url, asked.people)
    held = []
    with serving(url, folder) as (address, pid):
        end = time.monotonic() + asked.seconds
        workers = [Worker(n, address, token, shop, asked.pause) for n, token in enumerate(shop.tokens)]
        threads = [threading.Thread(target=worker.run, args=(end,)) for worker in workers]
        for thread in threads:
            thread.start()
        while time.monotonic() < end:
            held.append(memory(pid))
            time.sleep(min(asked.seconds / 12, 10))
        for thread in threads:
            thread.join()
        held.append(memory(pid))
    report(workers, asked.seconds)
    print(f"memory in MB: {' '.join(f'{one:.0f}' for one in held)}")
    writes = sum(w.received + len(w.recorded) + sum(map(len, w.edited.values())) for w in workers)
    print(f"{writes} writes acknowledged, {sum(w.refused for w in workers)} stale edits refused")
    wrong = check(url, shop, before, workers)
    odd: Counter[str] = sum((worker.odd for worker in workers), Counter())
    wrong += [f"{what}: {count} times" for what, count in odd.items()]
    print("\n".join(wrong) if wrong else "no error, nothing lost, nothing twice", flush=True)
    return wrong


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, default=50)
    parser.add_argument("--seconds", type=float, default=120.0)
    parser.add_argument("--pause", type=float, default=1.0, help="mean seconds between two things that a person does")
    parser.add_argument("--kind", nargs="+", default=["sqlite", "postgresql"])
    asked = parser.parse_args()
    wrong: list[str] = []
    with tempfile.TemporaryDirectory() as folder, running_server() as server:
        made = f"sqlite:///{Path(folder) / 'made.sqlite3'}"
        make_demo(made, "for this measurement alone")
        for kind in asked.kind:
            print(f"\n{kind}: {asked.people} people, {asked.seconds:.0f} s", flush=True)
            place = Path(folder) / kind
            place.mkdir()
            url = server.url(server.create()) if kind == "postgresql" else f"sqlite:///{place / 'shop.sqlite3'}"
            move(made, url)
            wrong += run(url, place, asked)
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
