"""The thread that keeps up what this process works at in the background, and takes up what other processes lost."""

import logging
import threading
import time
from collections.abc import Callable
from datetime import timedelta

from sqlalchemy.exc import SQLAlchemyError

from webapp.db import Database
from webapp.models import CuttingPlan, Forecast, PrintRun, SpreadRun
from webapp.paper.traveler.batches import Batches
from webapp.reckoner import Reckoner
from webapp.shop.base import background, chores
from webapp.shop.base.background import Run
from webapp.shop.bench import spreads
from webapp.shop.scheduling import forecasts
from webapp.shop.wood.plans import rules as cutting_plans

log = logging.getLogger("flutebench")

LOOK_AFTER = 24 * 3600.0  # s
FIRST = 60.0  # s after the shop has opened: people wait for that


class Keeper:
    """Every few seconds, from `start` to `stop`."""

    def __init__(self, database: Database, reckoner: Reckoner, batches: Batches) -> None:
        self._database = database
        self._reckoner, self._batches = reckoner, batches
        self._ending = threading.Event()
        self._thread: threading.Thread | None = None
        self._look_after_at = time.monotonic() + FIRST
        self._again: dict[type[Run], Callable[[int], None]] = {
            SpreadRun: lambda run_id: reckoner.take(run_id, spreads.reckon),
            CuttingPlan: lambda run_id: reckoner.take(run_id, cutting_plans.reckon),
            Forecast: lambda run_id: reckoner.take(run_id, forecasts.reckon),
            PrintRun: batches.take,
        }

    def start(self) -> None:
        self._thread = threading.Thread(target=self._run, name="keeper", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        self._ending.set()
        if self._thread is not None:
            self._thread.join(timeout=20)

    def _run(self) -> None:
        while not self._ending.wait(background.BEAT):
            try:
                self.look()
            except SQLAlchemyError as error:
                # Said in one line: what troubles the database is told to people by the pages.
                log.warning("the runs in the background could not be looked at: %s", type(error).__name__)

    def look(self) -> None:
        """Touch what is here; take up what nobody has; once a day look after the database."""
        mine = self._reckoner.runs()
        mine[PrintRun] = self._batches.runs()
        for table, run_ids in mine.items():
            if run_ids:
                with self._database.write() as session:
                    background.touch(session, table, run_ids)
        for table, take in self._again.items():
            if self._some_are_lost(table):
                with self._database.write() as session:
                    taken = background.take_lost(session, table, newest_only=table is Forecast)
                for run_id in taken:
                    log.warning("%s %s had lost its process and is taken up", table.__name__, run_id)
                    take(run_id)

        if time.monotonic() >= self._look_after_at:
            self._look_after_at = time.monotonic() + LOOK_AFTER / 4
            with chores.holding(self._database, "statistics", timedelta(seconds=LOOK_AFTER)) as held:
                if held is not None:
                    self._database.look_after()

    def _some_are_lost(self, table: type[Run]) -> bool:
        """Looked up without the lock first: there seldom are any."""
        with self._database.read() as session:
            return background.any_lost(session, table)
