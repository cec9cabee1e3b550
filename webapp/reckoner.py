"""Long reckonings run in one worker process beside the server, so that no page waits for them."""

import multiprocessing
import threading
from collections.abc import Callable

from pebble import ProcessPool

from webapp.shop import spreads


class Reckoner:
    """One run at a time, the next in the order they came. The worker is started when the first run is handed over.

    Each process of the server has its own; what they work on stands in the database.
    """

    def __init__(self, database_url: str, seconds: float = 120.0) -> None:
        self._url = database_url
        self._seconds = seconds
        self._lock = threading.Lock()
        self._pool: ProcessPool | None = None
        self._closed = False

    def take(self, run_id: int, work: Callable[[str, int], None] = spreads.reckon) -> None:
        """Carry out a run that is written down already, by `work(database url, run id)`, a module's own function.

        A closed reckoner leaves it, and it will show as stopped."""
        with self._lock:
            if self._closed:
                return
            if self._pool is None or not self._pool.active:
                context = multiprocessing.get_context("spawn")
                self._pool = ProcessPool(max_workers=1, max_tasks=100, context=context)
            self._pool.schedule(work, args=(self._url, run_id), timeout=self._seconds)

    def close(self) -> None:
        """End the worker, whatever it is doing."""
        with self._lock:
            self._closed = True
            pool, self._pool = self._pool, None
        if pool is not None:
            pool.stop()  # type: ignore[no-untyped-call]
            pool.join()
