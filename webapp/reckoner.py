"""Long reckonings run in one worker process beside the server, so that no page waits for them."""

import logging
import multiprocessing
import threading
from collections.abc import Callable
from concurrent.futures import CancelledError, Future
from typing import Any

from pebble import ProcessExpired, ProcessPool
from sqlalchemy.exc import SQLAlchemyError

from webapp import process
from webapp.db import Database
from webapp.models import CuttingPlan, Forecast, SpreadRun
from webapp.shop.base import background
from webapp.shop.base.background import Run
from webapp.shop.bench import spreads
from webapp.shop.scheduling import forecasts
from webapp.shop.wood.plans import rules as cutting_plans

log = logging.getLogger("flutebench")

Work = Callable[[str, int], None]
# What writes into a run of its own; learning keeps its results otherwise.
TABLES: dict[Work, type[Run]] = {
    spreads.reckon: SpreadRun,
    cutting_plans.reckon: CuttingPlan,
    forecasts.reckon: Forecast,
}
TRIES = 2
TOO_LONG = "It took too long and was given up."
STOPPED = "The process that reckoned it ended; the reason is in the server's log."


class Reckoner:
    """One run at a time, the next in the order they came. The worker is started when the first run is handed over.

    Each process of the server has its own; what they work on stands in the database.
    """

    def __init__(self, database_url: str, seconds: float = 120.0) -> None:
        self._url = database_url
        self._seconds = seconds
        self._lock = threading.RLock()  # a run that is over at once is told of by the one who hands it over
        self._pool: ProcessPool | None = None
        self._closed = False
        self._mine: dict[tuple[Work, int], int] = {}  # what was handed over and has not ended; how often it was begun

    def take(self, run_id: int, work: Work = spreads.reckon) -> None:
        """Carry out a run that is written down already, by `work(database url, run id)`, a module's own function.

        One that is here already is not begun again. A closed reckoner leaves it for another process."""
        with self._lock:
            if not self._closed and (work, run_id) not in self._mine:
                self._begin(work, run_id)

    def runs(self) -> dict[type[Run], list[int]]:
        """The runs that this process has, being worked at or waiting."""
        with self._lock:
            found: dict[type[Run], list[int]] = {}
            for work, run_id in self._mine:
                if work in TABLES:
                    found.setdefault(TABLES[work], []).append(run_id)
            return found

    def close(self) -> None:
        """End the worker, whatever it is doing; what it had is set free for another process, or for the next start."""
        with self._lock:
            self._closed = True
            pool, self._pool = self._pool, None
        if pool is not None:
            pool.stop()  # type: ignore[no-untyped-call]
            pool.join()
        left = self.runs()
        self._mine.clear()
        if left:
            self._tell(lambda database: _set_free(database, left))

    def _begin(self, work: Work, run_id: int) -> None:
        try:
            self._schedule(work, run_id)
        except (OSError, RuntimeError):
            # No memory or no process to be had: whoever asked goes on, and a process that has them takes it up.
            log.exception("%s %s could not be begun", work, run_id)
            self._mine.pop((work, run_id), None)

    def _schedule(self, work: Work, run_id: int) -> None:
        if self._pool is None or not self._pool.active:
            context = multiprocessing.get_context("spawn")
            self._pool = ProcessPool(max_workers=1, max_tasks=100, initializer=process.stand_back, context=context)
        self._mine[work, run_id] = self._mine.get((work, run_id), 0) + 1
        future = self._pool.schedule(work, args=(self._url, run_id), timeout=self._seconds)
        future.add_done_callback(lambda future: self._ended(work, run_id, future))

    def _ended(self, work: Work, run_id: int, future: "Future[Any]") -> None:
        """Called by the pool's own thread when a run is over, however it went."""
        try:
            error = future.exception()
        except CancelledError:
            return
        with self._lock:
            if self._closed:
                return
            if isinstance(error, ProcessExpired) and self._mine.get((work, run_id), TRIES) < TRIES:
                log.error("%s %s: its process ended with exit code %s; once more", work, run_id, error.exitcode)
                self._begin(work, run_id)
                return
            self._mine.pop((work, run_id), None)
        if error is None:
            return
        log.error("%s %s ended with %r", work, run_id, error)
        if work in TABLES:
            fault = TOO_LONG if isinstance(error, TimeoutError) else STOPPED
            self._tell(lambda database: background.write(database, TABLES[work], run_id, fault=fault))

    def _tell(self, what: Callable[[Database], object]) -> None:
        database = Database(self._url)
        try:
            what(database)
        except SQLAlchemyError:
            log.exception("how a reckoning ended could not be written down")
        finally:
            database.close()


def _set_free(database: Database, left: dict[type[Run], list[int]]) -> None:
    with database.write() as session:
        for table, run_ids in left.items():
            background.set_free(session, table, run_ids)
