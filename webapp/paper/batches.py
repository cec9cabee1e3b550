"""Prints batches of travelers one after another, in a thread beside the server's work.

The setting itself happens in the press's own processes; this thread waits for them and writes down how far it is.
"""

import logging
from concurrent.futures import ThreadPoolExecutor

from webapp.db import Database
from webapp.models import Units
from webapp.paper.press import NotPrinted, Press
from webapp.paper.traveler import travelers
from webapp.paper.traveler_sheet import traveler_job
from webapp.shop import print_runs

log = logging.getLogger("flutebench")


class Batches:
    """One run at a time, the next in the order they came. Each process of the server has its own; what they work on
    stands in the database."""

    def __init__(self, database: Database, press: Press) -> None:
        self._database = database
        self._press = press
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="batches")

    def take(self, run_id: int) -> None:
        """Print a run that is written down already."""
        self._thread.submit(self.print, run_id)

    def print(self, run_id: int) -> None:
        """Print it now; what goes wrong is written into the run."""
        try:
            self._print(run_id)
        except NotPrinted as error:
            self._failed(run_id, str(error))
        except Exception:
            log.exception("print run %s failed", run_id)
            self._failed(run_id, "The printing failed; the reason is in the server's log.")

    def close(self) -> None:
        """End with the run at hand; runs that wait will show as stopped."""
        self._thread.shutdown(wait=True, cancel_futures=True)

    def _print(self, run_id: int) -> None:
        with self._database.read() as session:
            run = print_runs.run_of(session, run_id)
            units, address = Units(run.units), run.address
            found = travelers(session, print_runs.blanks_of(session, run), units, address)
        jobs = [traveler_job(traveler) for traveler in found]

        def progress(done: int, _of: int) -> None:
            with self._database.write() as session:
                print_runs.came_to(session, run_id, done)

        progress(0, len(jobs))
        pdf = self._press.print_all(jobs, progress)
        with self._database.write() as session:
            print_runs.finished(session, run_id, pdf)

    def _failed(self, run_id: int, fault: str) -> None:
        with self._database.write() as session:
            print_runs.failed(session, run_id, fault)
