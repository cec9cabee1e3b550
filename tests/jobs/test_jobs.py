"""Runs in the background: touched by their process, taken up once when it is lost, and never written twice."""

import threading
import time
from concurrent.futures import Future
from datetime import timedelta

import pytest
from sqlmodel import col, select

from tests.jobs import works
from tests.shops import OpenShop
from webapp import changes, job_kinds
from webapp.job_kinds import JOBS
from webapp.jobs import claims, schedule
from webapp.jobs.claims import LOST, QUIET
from webapp.jobs.heartbeat import Heartbeat
from webapp.jobs.job import Job
from webapp.jobs.queue import FAILED, STOPPED, TOO_LONG, Queue
from webapp.models import Chore, Forecast, ForecastKind, PrintRun, SpreadRun, at, now
from webapp.paper.press.workers import NotPrinted, Press


def started(shop: OpenShop, *ago: timedelta) -> list[int]:
    """Forecasts whose last heartbeat was so long ago."""
    with shop.database.write() as session:
        made = [Forecast(kind=ForecastKind.QUEUE, mark="-", total=1, touched_at=now() - span) for span in ago]
        session.add_all(made)
        session.commit()
        return [run.id or 0 for run in made]


def taken(shop: OpenShop, newest_only: bool = False) -> list[int]:
    with shop.database.write() as session:
        return claims.claim_lost(session, Forecast, newest_only)


def test_what_has_lost_its_process_is_taken_up_by_one(open_shop: OpenShop) -> None:
    database = open_shop.database
    fresh, lost, ahead = started(open_shop, timedelta(), LOST, -timedelta(days=400))
    with database.read() as session:
        before = changes.count(session)
        runs = {run.id: run for run in session.exec(select(Forecast))}
        assert claims.under_way(runs[fresh]) and claims.under_way(runs[lost])
        # Touched before the clock was set back: it would seem to be under way for 400 days.
        assert not claims.under_way(runs[ahead])
        assert claims.any_lost(session, Forecast) and not claims.any_lost(session, SpreadRun)
    found: list[int] = []
    barrier = threading.Barrier(4)

    def take() -> None:
        barrier.wait()
        found.extend(taken(open_shop))

    threads = [threading.Thread(target=take) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(found) == [lost, ahead]

    # Its process touches it: nobody else takes it, however long it lasts.
    with at(now() + 10 * QUIET):
        with database.write() as session:
            claims.heartbeat(session, Forecast, [fresh, lost])
        assert taken(open_shop) == [ahead]
        # One that ends in order sets its runs free at once, and people are not told that they stopped.
        with database.write() as session:
            claims.release(session, Forecast, [lost])
            assert claims.under_way(session.get_one(Forecast, lost))
        assert taken(open_shop) == [lost]
    # Nobody waits for what was asked long ago; a newer question makes an older one idle.
    with at(now() + 2 * claims.TOO_OLD):
        assert taken(open_shop) == []
    with at(now() + 20 * QUIET):
        assert taken(open_shop, newest_only=True) == [ahead]
    with database.read() as session:
        assert changes.count(session) == before, "open screens need not know"


def test_what_came_out_first_stays(open_shop: OpenShop) -> None:
    database = open_shop.database
    [run_id] = started(open_shop, LOST)
    assert claims.save(database, Forecast, run_id, done=1)
    assert claims.save(database, Forecast, run_id, result={"from": "the first"})
    assert not claims.save(database, Forecast, run_id, result={"from": "one that woke up late"})
    assert not claims.save(database, Forecast, run_id, fault="it failed there")
    assert not claims.save(database, Forecast, 999, done=1)
    assert taken(open_shop) == []
    with database.read() as session:
        run = session.get_one(Forecast, run_id)
        assert (run.result, run.fault) == ({"from": "the first"}, "")


def test_a_process_that_ends_hands_on_what_it_was_at(open_shop: OpenShop, monkeypatch: pytest.MonkeyPatch) -> None:
    database = open_shop.database
    [run_id] = started(open_shop, timedelta())
    with database.write() as session:
        session.add(batch := PrintRun(serials=["1"], units="mm", address="", total=1, started_by=open_shop.maker.id))
        session.commit()
    monkeypatch.setattr("webapp.jobs.queue.ProcessPool", NeverDone)
    press = Jammed()
    queue = Queue(database, press=press)
    queue.enqueue(job_kinds.FORECAST, run_id)
    queue.enqueue(job_kinds.FORECAST, run_id)
    queue.enqueue(job_kinds.TRAVELERS, batch.id or 0)
    assert queue.runs() == {Forecast: [run_id], PrintRun: [batch.id]}
    assert press.began.wait(10)
    Heartbeat(database, queue, JOBS).beat()
    assert taken(open_shop) == []
    queue.close()
    queue.enqueue(job_kinds.FORECAST, run_id)
    assert (taken(open_shop), queue.runs()) == ([run_id], {})
    with database.write() as session:
        assert claims.claim_lost(session, PrintRun) == [batch.id]
        assert session.get_one(PrintRun, batch.id).fault == ""


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_a_job_is_tried_again_and_says_why_it_failed(open_shop: OpenShop) -> None:
    tried = (works.dies_once, works.always_dies, works.refuses, works.breaks, works.sleeps)
    runs = started(open_shop, *[timedelta()] * len(tried))
    queue, hurried = Queue(open_shop.database), Queue(open_shop.database, seconds=1.0)
    for work, run_id in zip(tried, runs, strict=True):
        (hurried if work is works.sleeps else queue).enqueue(Job(work.__name__, work, Forecast), run_id)
    while queue.runs() or hurried.runs():
        time.sleep(0.1)
    queue.close()
    hurried.close()
    with open_shop.database.read() as session:
        ended = [session.get_one(Forecast, run_id) for run_id in runs]
    assert [run.fault for run in ended] == ["", STOPPED, "The queue is empty.", FAILED, TOO_LONG]
    assert ended[0].result == {"try": "second"}


class NeverDone:
    """A pool of workers that works at one thing for ever."""

    active = True

    def __init__(self, **_settings: object) -> None: ...

    def schedule(self, *_work: object, **_how: object) -> "Future[None]":
        return Future()

    def stop(self) -> None: ...

    def join(self) -> None: ...


class Jammed(Press):
    """A press that sets nothing until it is closed."""

    def __init__(self) -> None:
        super().__init__()
        self.began, self.closed = threading.Event(), threading.Event()

    def print_all(self, jobs: object, progress: object = None) -> bytes:
        self.began.set()
        self.closed.wait(20)
        raise NotPrinted("The shop's server is closing down.")

    def close(self) -> None:
        self.closed.set()


def test_periodic_work_is_claimed_for_as_long_as_it_takes(open_shop: OpenShop) -> None:
    database, every = open_shop.database, timedelta(hours=1)
    with schedule.claimed(database, "a chore", every) as held:
        assert held is not None
        with schedule.claimed(database, "a chore", timedelta(0)) as another:
            assert another is None
        held.fault = "the disk was full"
    with database.read() as session:
        assert schedule.state(session, "a chore") == (None, "the disk was full")
    with at(now() + every), schedule.claimed(database, "a chore", every) as held:
        assert held is not None
    with database.read() as session:
        assert schedule.state(session, "a chore")[1] == ""
    # A process was killed over it, and then the clock was set back by a year.
    with database.write() as session:
        chore = session.exec(select(Chore).where(col(Chore.name) == "a chore")).one()
        chore.held_until = now() + timedelta(days=366)
        session.add(chore)
        session.commit()
    with schedule.claimed(database, "a chore", timedelta(0)) as held:
        assert held is not None
