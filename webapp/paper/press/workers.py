"""The press: a few worker processes that turn HTML into PDF, so that setting a page never holds up the server.

Workers are spawned when the first paper is asked for, stay warm, and are replaced after a number of papers, after
a crash, or when one of them takes too long.
"""

import logging
import multiprocessing
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, Future
from contextlib import contextmanager
from typing import TypeVar

from pebble import ProcessExpired, ProcessPool

from webapp.paper.press import jobs as work
from webapp.paper.press.jobs import Job, UnprintableError
from webapp.shop.base.errors import ShopError

log = logging.getLogger("flutebench")

# Papers set together share their fonts; more than these in one go would hold too much memory at once.
TOGETHER = 5

CLOSING = "The shop's server is closing down. Please try again in a minute."

Result = TypeVar("Result")


class NotPrinted(ShopError):
    """The paper could not be made; the text says what to do about it."""


class Press:
    """At most `workers` papers are set at once and `waiting` more may wait; each may take `seconds`.

    Several that are set together may take as many times that. Workers that had nothing to do for `idle` seconds are
    ended: each holds more than 100 MB.
    """

    def __init__(
        self, workers: int = 2, waiting: int = 20, seconds: float = 60.0, papers_each: int = 200, idle: float = 60.0
    ) -> None:
        if workers < 1 or waiting < 0 or seconds <= 0 or papers_each < 1 or idle <= 0:
            raise ValueError("workers, waiting, seconds, papers_each and idle must be positive")
        self._idle = idle
        self._at_work = 0
        self._rest: threading.Timer | None = None
        self._workers = workers
        self._seconds = seconds
        self._papers_each = papers_each
        self._room = threading.BoundedSemaphore(workers + waiting)
        self._lock = threading.Lock()
        self._pool: ProcessPool | None = None
        self._closed = False

    def print(self, job: Job) -> bytes:
        """The PDF of one document. Raises NotPrinted."""
        with self._place():
            return self._result(self._schedule(work.set_pages, [job], 1))

    def print_all(self, jobs: Sequence[Job], progress: Callable[[int, int], None] | None = None) -> bytes:
        """Many documents in one PDF, in their order; `progress` hears how many of how many are set.

        Raises NotPrinted.
        """
        if not jobs:
            raise NotPrinted("There is nothing to print here.")
        with self._place():
            groups = [jobs[start : start + TOGETHER] for start in range(0, len(jobs), TOGETHER)]
            running: list[Future[bytes]] = []
            parts: list[bytes] = []
            try:
                for group in groups:
                    running.append(self._schedule(work.set_pages, group, len(group)))
                for future in running:
                    parts.append(self._result(future))
                    if progress:
                        progress(min(len(parts) * TOGETHER, len(jobs)), len(jobs))
            except NotPrinted:
                for future in running:
                    future.cancel()
                raise
            if len(parts) == 1:
                return parts[0]
            return self._result(self._schedule(work.bind, parts, len(parts)))

    def close(self) -> None:
        """End the workers, whatever they are doing. A closed press prints nothing more."""
        with self._lock:
            self._closed = True
            pool, self._pool = self._pool, None
            if self._rest is not None:
                self._rest.cancel()
        if pool is not None:
            pool.stop()  # type: ignore[no-untyped-call]
            pool.join()

    @contextmanager
    def _place(self) -> Iterator[None]:
        if not self._room.acquire(blocking=False):
            raise NotPrinted("Many papers are being printed right now. Please try again in a minute.")
        with self._lock:
            self._at_work += 1
        try:
            yield
        finally:
            with self._lock:
                self._at_work -= 1
                if self._rest is not None:
                    self._rest.cancel()
                    self._rest = None
                if not self._at_work and not self._closed:
                    self._rest = threading.Timer(self._idle, self._end_idle)
                    self._rest.daemon = True
                    self._rest.start()
            self._room.release()

    def _end_idle(self) -> None:
        """End the workers where nobody has come meanwhile; the next paper starts new ones."""
        with self._lock:
            if self._at_work or self._closed:
                return
            pool, self._pool = self._pool, None
        if pool is not None:
            pool.stop()  # type: ignore[no-untyped-call]
            pool.join()

    def _schedule(self, task: Callable[..., bytes], argument: Sequence[object], papers: int) -> Future[bytes]:
        with self._lock:
            if self._closed:
                raise NotPrinted(CLOSING)
            if self._pool is None or not self._pool.active:
                self._pool = ProcessPool(
                    max_workers=self._workers,
                    max_tasks=self._papers_each,
                    initializer=work.get_ready,
                    context=multiprocessing.get_context("spawn"),
                )
            return self._pool.schedule(task, args=(argument,), timeout=self._seconds * papers)

    def _result(self, future: Future[Result]) -> Result:
        try:
            return future.result()
        except CancelledError:
            raise NotPrinted(CLOSING) from None
        except TimeoutError:
            log.error("a paper took longer than %s s and was given up (several: each)", self._seconds)
            raise NotPrinted("This paper took too long and was given up. Nothing else is affected.") from None
        except UnprintableError as error:
            log.error("a paper could not be set: %s", error)
            raise NotPrinted("This paper could not be set; the reason is in the server's log.") from error
        except ProcessExpired as error:
            log.error("a paper's worker ended with exit code %s", error.exitcode)
            raise NotPrinted("The printing worker stopped. Please try again.") from error
        except Exception as error:
            log.exception("a paper failed", exc_info=error)
            raise NotPrinted("This paper could not be made; the reason is in the server's log.") from error
