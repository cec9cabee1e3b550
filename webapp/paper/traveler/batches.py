"""Prints batches of travelers one after another, in a thread beside the server's work.

The setting itself happens in the press's own processes; this thread waits for them and writes down how far it is.
"""

import logging
import threading
from concurrent.futures import ThreadPoolExecutor

from sqlalchemy.exc import SQLAlchemyError

from webapp.db import Database
from webapp.models import PrintRun, Units
from webapp.paper.press.workers import NotPrinted, Press
from webapp.paper.traveler.content import travelers
from webapp.paper.traveler.sheet import traveler_job
from webapp.shop import print_runs
from webapp.shop.base import background

log = logging.getLogger("flutebench")


class Batches:
    """One run at a time, the next in the order they came. Each process of the server has its own; what they work on
    stands in the database."""

    def __init__(self, database: Database, press: Press) -> None:
        self._database = database
        self._press = press
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="batches")
        self._lock = threading.Lock()
        self._mine: set[int] = set()
        self._closed = False

    def take(self, run_id: int) -> None:
        """Print a run that is written down already; one that is here already is not begun again."""
        with self._lock:
            if self._closed or run_id in self._mine:
                return
            self._mine.add(run_id)
            self._thread.submit(self.print, run_id)

    def runs(self) -> list[int]:
        """The runs that this process has, being printed or waiting."""
        with self._lock:
            return list(self._mine)

    def print(self, run_id: int) -> None:
        """Print it now; what goes wrong is written into the run."""
        fault = ""
        try:
            self._print(run_id)
        except NotPrinted as error:
            fault = str(error)
        except Exception:
            log.exception("print run %s failed", run_id)
            fault = "The printing failed; the reason is in the server's log."
        if self._closed:
            return
        try:
            if fault:
                print_runs.failed(self._database, run_id, fault)
        except SQLAlchemyError:
            log.exception("why print run %s failed could not be written down", run_id)
        finally:
            with self._lock:
                self._mine.discard(run_id)

    def close(self) -> None:
        """Close the press, and with it give up the run at hand; what is left is set free for another process, or for
        the next start."""
        with self._lock:
            self._closed = True
        self._press.close()
        self._thread.shutdown(wait=True, cancel_futures=True)
        if not self._mine:
            return
        try:
            with self._database.write() as session:
                background.set_free(session, PrintRun, self._mine)
        except SQLAlchemyError:
            log.warning("what is left to print will be taken up a little later", exc_info=True)

    def _print(self, run_id: int) -> None:
        with self._database.read() as session:
            run = print_runs.run_of(session, run_id)
            units, address = Units(run.units), run.address
            found = travelers(session, print_runs.blanks_of(session, run), units, address)
        jobs = [traveler_job(traveler) for traveler in found]

        def progress(done: int, _of: int) -> None:
            print_runs.came_to(self._database, run_id, done)

        progress(0, len(jobs))
        print_runs.finished(self._database, run_id, self._press.print_all(jobs, progress))
