"""Taking turns within one process: whoever came first is served first.

SQLite lets one transaction write at a time and lets the others try again after a while, each by itself: under load the
one that came first may wait longest. Threads that queue up here first don't leave that to chance. Other processes are
still kept apart by SQLite's own lock.
"""

import threading
from collections import deque


class Turns:
    """A lock that goes to those who wait in the order they came. Any thread may give back what another one took."""

    def __init__(self) -> None:
        self._mutex = threading.Lock()
        self._taken = False
        self._waiting: deque[threading.Event] = deque()

    def take(self, patience: float) -> bool:
        """Wait for a turn, at most `patience` seconds; whether it came."""
        mine = threading.Event()
        with self._mutex:
            if not self._taken:
                self._taken = True
                return True
            self._waiting.append(mine)
        if mine.wait(patience):
            return True
        with self._mutex:
            if mine.is_set():  # it came just as patience ended
                return True
            self._waiting.remove(mine)
            return False

    def give(self) -> None:
        """End a turn; the one who has waited longest is next."""
        with self._mutex:
            if self._waiting:
                self._waiting.popleft().set()
            else:
                self._taken = False
