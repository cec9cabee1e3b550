"""The queue of background jobs of one process of the server; what they work on stands in the database."""

import logging
import multiprocessing
import threading
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor
from typing import Any, Protocol

from pebble import ProcessExpired, ProcessPool
from sqlalchemy.exc import SQLAlchemyError

from webapp.db import Database
from webapp.jobs import claims
from webapp.jobs.claims import Run
from webapp.jobs.job import Job, JobFailed, perform
from webapp.serving import process

log = logging.getLogger("flutebench")

TRIES = 2
TOO_LONG = "It took too long and was given up."
STOPPED = "The process that worked at it ended; the reason is in the server's log."
FAILED = "It failed; the reason is in the server's log."


class Helper(Protocol):
    """What jobs in threads use, such as the press; closed with the queue, so that nobody waits for it any more."""

    def close(self) -> None: ...


class Queue:
    """One job at a time in a worker process and one in a thread, each the next in the order they came.

    The worker is started with the first job. `seconds` is the longest that a job may take in it.
    """

    def __init__(self, database: Database, seconds: float = 120.0, **helpers: Helper) -> None:
        self._database = database
        self._seconds = seconds
        self._helpers = helpers
        self._lock = threading.RLock()  # a job that is over at once is ended by the one who enqueues it
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="jobs")
        self._pool: ProcessPool | None = None
        self._closed = False
        self._tries: dict[tuple[Job, int], int] = {}  # of what was enqueued and has not ended

    def enqueue(self, job: Job, run_id: int = 0) -> None:
        """Carry out a run that is written down already; one that is here is not begun again.

        A closed queue leaves it for another process."""
        with self._lock:
            if not self._closed and (job, run_id) not in self._tries:
                self._begin(job, run_id)

    def runs(self) -> dict[type[Run], list[int]]:
        """The runs that this process has, being worked at or waiting."""
        with self._lock:
            found: dict[type[Run], list[int]] = {}
            for job, run_id in self._tries:
                if job.table is not None:
                    found.setdefault(job.table, []).append(run_id)
            return found

    def close(self) -> None:
        """End the worker, whatever it is doing; what is left is released for another process, or for the next start."""
        with self._lock:
            self._closed = True
            pool, self._pool = self._pool, None
        for helper in self._helpers.values():
            helper.close()
        if pool is not None:
            pool.stop()  # type: ignore[no-untyped-call]
            pool.join()
        self._thread.shutdown(wait=True, cancel_futures=True)
        left = self.runs()
        self._tries.clear()
        try:
            for table, run_ids in left.items():
                with self._database.write() as session:
                    claims.release(session, table, run_ids)
        except SQLAlchemyError:
            log.warning("the jobs that are left will be claimed a little later", exc_info=True)

    def _begin(self, job: Job, run_id: int) -> None:
        self._tries[job, run_id] = self._tries.get((job, run_id), 0) + 1
        try:
            self._submit(job, run_id).add_done_callback(lambda future: self._ended(job, run_id, future))
        except (OSError, RuntimeError):
            # No memory or no process to be had: whoever asked goes on, and a process that has them claims it.
            log.exception("%s %s could not be begun", job.name, run_id)
            self._tries.pop((job, run_id), None)

    def _submit(self, job: Job, run_id: int) -> "Future[None]":
        if job.in_thread:
            return self._thread.submit(job.work, self._database, run_id, **self._helpers)
        if self._pool is None or not self._pool.active:
            context = multiprocessing.get_context("spawn")
            self._pool = ProcessPool(max_workers=1, max_tasks=100, initializer=process.stand_back, context=context)
        return self._pool.schedule(perform, args=(job, self._database.url, run_id), timeout=self._seconds)

    def _ended(self, job: Job, run_id: int, future: "Future[Any]") -> None:
        """Called by the pool's own thread when a job is over, however it went."""
        try:
            error = future.exception()
        except CancelledError:
            return
        with self._lock:
            if self._closed and error is not None:
                return  # it was ended on purpose, and is released
            if isinstance(error, ProcessExpired) and self._tries.get((job, run_id), TRIES) < TRIES:
                log.error("%s %s: its process ended with exit code %s; once more", job.name, run_id, error.exitcode)
                self._begin(job, run_id)
                return
        if error is not None:
            self._failed(job, run_id, error)
        with self._lock:
            self._tries.pop((job, run_id), None)

    def _failed(self, job: Job, run_id: int, error: BaseException) -> None:
        if isinstance(error, JobFailed):
            fault = str(error)
        elif isinstance(error, TimeoutError):
            fault = TOO_LONG
        else:
            fault = STOPPED if isinstance(error, ProcessExpired) else FAILED
        log.error("%s %s: %s", job.name, run_id, fault, exc_info=error)
        if job.table is None:
            return
        try:
            claims.save(self._database, job.table, run_id, fault=fault[:300])
        except SQLAlchemyError:
            log.exception("why %s %s failed could not be written down", job.name, run_id)
