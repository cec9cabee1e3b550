"""Two processes of the app on one database are one shop; and one that is asked to end first finishes what it began."""

import os
import secrets
import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path

import httpx2
import pytest
import sqlalchemy as sa
from sqlmodel import col, select, update

from tests.blanks import order, pattern
from tests.durability.serving import Killable
from tests.shops import OpenShop
from webapp.db import Database
from webapp.jobs import claims
from webapp.models import Blank, Order, Person, PrintRun, SpreadRun, StockItem, StockKind, StockMovement, now
from webapp.shop.bench import spreads
from webapp.shop.people import accounts
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import NewLot

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
        self._program, self._token, self._stack = program, token, stack
        self.pids: list[int] = []
        self.a, self.b = self._another(), self._another()

    def _another(self) -> httpx2.Client:
        port = free_port()
        self._program.start(port)
        self.pids.append(self._program.pid)
        self._stack.callback(_end, self._program.pid)
        self._program.pid = 0
        address = f"http://127.0.0.1:{port}"
        headers = {"origin": address, "cookie": f"flutebench={self._token}"}
        client = httpx2.Client(base_url=address, headers=headers, timeout=30, trust_env=False)
        self._stack.enter_context(client)
        _until(lambda: _answers(client))
        return client

    def kill_a(self) -> None:
        """As hard as can be, with the workers beside it; another process takes its place."""
        workers = _workers_of(self.pids[0])
        for pid in (self.pids[0], *workers):
            _end(pid)
        self.pids.pop(0)
        self.a, last = self._another(), self.pids.pop()
        self.pids.insert(0, last)

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
        serials = list(session.exec(select(Blank.serial)))
        assert len(set(serials)) == len(serials) == 13
        assert session.get_one(Order, 1).version == version + 1

    _what_a_killed_process_was_at_is_taken_up(database, two, serials)
    _one_that_shall_end_answers_what_it_was_asked(database, two, cord.id or 0)
    # Nothing is left half made.
    assert not [path for path in tmp_path.rglob("*") if "partial" in path.name]


def _what_a_killed_process_was_at_is_taken_up(database: Database, two: Two, serials: list[str]) -> None:
    """Ten thousand flutes, half calculated, and a batch of papers behind it."""
    there = "/patterns/1/1/tolerance"
    assert two.at_once(there, {"once": once()}, {"once": once()}) == [303, 409]
    with database.read() as session:
        [run] = session.exec(select(SpreadRun)).all()
    if not _workers_of(two.pids[0]):
        _until(lambda: bool(_workers_of(two.pids[0]) or _workers_of(two.pids[1])))
    if _workers_of(two.pids[1]):  # it was B that was asked first
        two.pids.reverse()
        two.a, two.b = two.b, two.a
    batch = _print(two.a, serials[:1])
    two.kill_a()
    _let_time_pass(database)
    _until(lambda: _ended(database, SpreadRun, run.id) and _ended(database, PrintRun, batch))
    with database.read() as session:
        [run] = session.exec(select(SpreadRun)).all()
        assert run.result is not None and run.result["flutes"] == run.done == spreads.FLUTES
    for client in (two.a, two.b):
        assert "in 100 would have every note in tune" in client.get(there).text
        assert client.get(f"/travelers/{batch}/travelers.pdf").content.startswith(b"%PDF")


def _print(client: httpx2.Client, serials: list[str]) -> int:
    answer = client.post("/travelers", data={"serials": serials, "once": once()})
    assert answer.status_code == 303
    return int(answer.headers["location"].rsplit("/", 1)[1])


def _let_time_pass(database: Database) -> None:
    """As much as it takes until a process that touches nothing any more is given up."""
    with database.write() as session:
        for table in (SpreadRun, PrintRun):
            session.exec(update(table).values(touched_at=now() - claims.LOST))
        session.commit()


def _ended(database: Database, table: type[SpreadRun | PrintRun], run_id: int | None) -> bool:
    with database.read() as session:
        run = session.get_one(table, run_id)
        assert not run.fault
        return claims.ended(run)


def _workers_of(pid: int) -> list[int]:
    """The processes that calculate and print for this server."""
    children = [path.read_text().split() for path in Path(f"/proc/{pid}/task").glob("*/children")]
    return [int(child) for some in children for child in some if "spawn_main" in _command(int(child))]


def _command(pid: int) -> str:
    return Path(f"/proc/{pid}/cmdline").read_text().replace("\0", " ")


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
