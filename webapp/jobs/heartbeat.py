"""The thread that keeps alive the runs that this process has, and claims those that other processes have lost."""

import logging
import threading
from collections.abc import Sequence

from sqlalchemy.exc import SQLAlchemyError

from webapp.db import Database
from webapp.jobs import claims
from webapp.jobs.job import Job
from webapp.jobs.queue import Queue

log = logging.getLogger("flutebench")


class Heartbeat:
    """Beats every few seconds, from `start` to `stop`."""

    def __init__(self, database: Database, queue: Queue, jobs: Sequence[Job]) -> None:
        self._database, self._queue, self._jobs = database, queue, jobs
        self._ending = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        self._ending.clear()
        self._thread = threading.Thread(target=self._run, name="heartbeat", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        self._ending.set()
        if self._thread is not None:
            self._thread.join(timeout=20)

    def _run(self) -> None:
        while not self._ending.wait(claims.HEARTBEAT):
            try:
                self.beat()
            except SQLAlchemyError as error:
                # Said in one line: what troubles the database is told to people by the pages.
                log.warning("the background jobs could not be looked at: %s", type(error).__name__)

    def beat(self) -> None:
        """Keep alive what is here; claim what nobody has."""
        for table, run_ids in self._queue.runs().items():
            with self._database.write() as session:
                claims.heartbeat(session, table, run_ids)
        for job in self._jobs:
            # Looked up without the lock first: there seldom are any.
            if job.table is None or not self._any_lost(job):
                continue
            with self._database.write() as session:
                claimed = claims.claim_lost(session, job.table, job.newest_only)
            for run_id in claimed:
                log.warning("%s %s had lost its process and is claimed", job.name, run_id)
                self._queue.enqueue(job, run_id)

    def _any_lost(self, job: Job) -> bool:
        with self._database.read() as session:
            return job.table is not None and claims.any_lost(session, job.table)
