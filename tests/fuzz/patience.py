"""A limit to how long something may take, in this process's processor time, whatever else the machine does."""

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


class TookTooLong(BaseException):
    """Not an Exception: what catches everything must not take this for an answer."""


@contextmanager
def within(seconds: float) -> Iterator[None]:
    """Ends the block with TookTooLong where it uses the processor longer than that."""

    def over(_number: int, _frame: FrameType | None) -> None:
        raise TookTooLong(f"more than {seconds:g} s")

    before = signal.signal(signal.SIGPROF, over)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)
