"""Two processes of the app on one database are one shop; and one that is asked to end first finishes what it began."""

import os
import secrets
import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from datetime import timedelta
from pathlib import Path

import httpx2
import pytest
import sqlalchemy as sa
from sqlmodel import col, select

from tests.blanks import order, pattern
from tests.durability.serving import Killable
from tests.shops import OpenShop
from webapp.db import Database
from webapp.models import Blank, Order, Person, SpreadRun, StockItem, StockKind, StockMovement, now
from webapp.shop import accounts, chores, spreads, stock
from webapp.shop.stock_forms import NewLot

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
Pair = tuple[httpx2.Client, httpx2.Client]


def free_port() -> int:
    with closing(socket.socket()) as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
        return port


class Two:
    """Two server processes on one shop, and the owner's browser at each."""

    def __init__(self, program: Killable, token: str, stack: ExitStack) -> None:
        self.pids, clients = [], []
        for _ in range(2):
            port = free_port()
            program.start(port)
            self.pids.append(program.pid)
            stack.callback(_end, program.pid)
            address = f"http://127.0.0.1:{port}"
            headers = {"origin": address, "cookie": f"flutebench={token}"}
            client = httpx2.Client(base_url=address, headers=headers, timeout=30, trust_env=False)
            clients.append(stack.enter_context(client))
            _until(lambda client=client: _answers(client))
        program.pid = 0
        self.a, self.b = clients

    def at_once(self, path: str, *forms: dict[str, str]) -> list[int]:
        """The same address asked in both processes at the same moment, each with its form; the statuses."""
        barrier, found = threading.Barrier(len(forms)), [0] * len(forms)

        def send(n: int) -> None:
            barrier.wait()
            found[n] = (self.a, self.b)[n % 2].post(path, data=forms[n]).status_code

        threads = [threading.Thread(target=send, args=(n,)) for n in range(len(forms))]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        return sorted(found)


def _answers(client: httpx2.Client) -> bool:
    try:
        return client.get("/healthz").status_code == 200
    except httpx2.TransportError:
        return False


def _until(true: Callable[[], bool], seconds: float = 60) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.05)


def _end(pid: int) -> None:
    if _runs(pid):
        os.kill(pid, signal.SIGKILL)


def _runs(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


@pytest.fixture
def two(open_shop: OpenShop, migrated_database_url: str, tmp_path: Path) -> Iterator[Two]:
    with open_shop.database.write() as session:
        token = accounts.open_sign_in(session, session.get_one(Person, open_shop.owner.id), 1)
        session.commit()
    with Killable(tmp_path, migrated_database_url) as program, ExitStack() as stack:
        yield Two(program, token, stack)


def once() -> str:
    return secrets.token_urlsafe(16)


def test_two_processes_are_one_shop(open_shop: OpenShop, two: Two, tmp_path: Path) -> None:
    database, walnut = open_shop.database, open_shop.species()
    with database.write() as session:
        asked = NewLot(kind=StockKind.HALVES, name="Walnut", species_id=walnut, unit="piece", quantity=2)
        lot = stock.add_lot(session, open_shop.owner, asked)
        session.add(cord := StockItem(kind=StockKind.CORD, name="cord", unit="m"))
        revision = pattern(session, open_shop.owner)
        order(session)
        number, version = session.exec(select(Order.number, Order.version)).one()

    # The same form sent to both is carried out once, and both answer as if they had done it.
    for n in range(4):
        form = {"quantity": "1", "note": f"receipt {n}", "once": once()}
        assert two.at_once(f"/stock/{cord.id}/receive", form, form) == [303, 303]
    # The last two halves go to one of the two who ask for them.
    blank = {"revision_id": str(revision), "species_id": str(walnut), "count": "1"}
    halves = [{**blank, "item_id": str(lot.id), "once": once()} for _ in range(2)]
    assert two.at_once("/blanks/new", *halves) == [303, 409]
    # No serial is given twice.
    assert two.at_once("/blanks/new", *[{**blank, "count": "2", "once": once()} for _ in range(6)]) == [303] * 6
    # Of two who change the same order, the second is shown what the first wrote.
    same = {"due_on": "2031-05-02", "deposit": "0", "why": "asked", "version": str(version)}
    edits = [{**same, "note": f"by {n}", "once": once()} for n in range(2)]
    assert two.at_once(f"/orders/{number}/edit", *edits) == [303, 409]
    with database.read() as session:
        notes = session.exec(select(StockMovement.note).where(StockMovement.item_id == cord.id)).all()
        assert sorted(notes) == [f"receipt {n}" for n in range(4)]
        assert stock.available(session, lot.id or 0) == 0
        serials = session.exec(select(Blank.serial)).all()
        assert len(set(serials)) == len(serials) == 13
        assert session.get_one(Order, 1).version == version + 1

    _long_work_is_done_once_and_seen_by_both(database, two)
    _a_chore_is_taken_by_one(database)
    _one_that_shall_end_answers_what_it_was_asked(database, two, cord.id or 0)
    # Nothing is left half made.
    assert not [path for path in tmp_path.rglob("*") if "partial" in path.name]


def _long_work_is_done_once_and_seen_by_both(database: Database, two: Two) -> None:
    there = "/patterns/1/1/tolerance"
    assert two.at_once(there, {"once": once()}, {"once": once()}) == [303, 409]
    with database.read() as session:
        run_id = session.exec(select(SpreadRun.id)).one()
    _until(lambda: bool(_worker_of(two.pids)))
    for worker in _worker_of(two.pids):  # its worker is killed in the middle
        os.kill(worker, signal.SIGKILL)
    with database.write() as session:
        run = session.get_one(SpreadRun, run_id)
        assert run.result is None
        run.touched_at = now() - spreads.QUIET - timedelta(seconds=1)
        session.add(run)
        session.commit()
    for client in (two.a, two.b):
        assert "did not come to its end" in client.get(there).text
    # It can be asked for again, in the other process too.
    assert two.b.post(there, data={"once": once()}).status_code == 303
    _until(lambda: "did not come to its end" not in two.a.get(there).text)


def _worker_of(pids: list[int]) -> list[int]:
    """The processes that reckon for these servers."""
    found = []
    for pid in pids:
        for line in Path(f"/proc/{pid}/task").glob("*/children"):
            found += [int(child) for child in line.read_text().split() if "spawn_main" in _command(int(child))]
    return found


def _command(pid: int) -> str:
    return Path(f"/proc/{pid}/cmdline").read_text().replace("\0", " ")


def _a_chore_is_taken_by_one(database: Database) -> None:
    taken: list[bool] = []
    barrier = threading.Barrier(4)

    def take() -> None:
        barrier.wait()
        with database.write() as session:
            taken.append(chores.take(session, "a test's chore", timedelta(hours=1), timedelta(hours=1)))

    threads = [threading.Thread(target=take) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(taken) == [False, False, False, True]


def _one_that_shall_end_answers_what_it_was_asked(database: Database, two: Two, item_id: int) -> None:
    answers: list[int] = []
    form = {"quantity": "3", "note": "under way", "once": once()}
    waiting = threading.Thread(
        target=lambda: answers.append(two.a.post(f"/stock/{item_id}/receive", data=form).status_code)
    )
    with _held(database, item_id):
        waiting.start()
        time.sleep(0.4)
        os.kill(two.pids[0], signal.SIGTERM)
        time.sleep(0.3)
        assert not answers
    waiting.join(timeout=20)
    assert answers == [303]
    _until(lambda: not _runs(two.pids[0]), 20)
    with database.read() as session:
        assert session.exec(select(StockMovement.id).where(StockMovement.note == "under way")).one()
    assert two.b.get(f"/stock/{item_id}").status_code == 200  # the other one works on


@contextmanager
def _held(database: Database, item_id: int) -> Iterator[None]:
    """Somebody else holds what the request needs: the write lock of SQLite, the lot's row on PostgreSQL."""
    with database.write() as session:
        session.execute(sa.select(StockItem).where(col(StockItem.id) == item_id).with_for_update())
        yield
        session.rollback()
