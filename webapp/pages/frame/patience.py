"""Answers that wait: for a paper to be set, a password to be hashed, a picture or a recording to be worked through.

They wait in threads of their own, so that pages, which take milliseconds, always find one free.
"""

import functools
from collections.abc import Awaitable, Callable
from typing import ParamSpec, TypeVar

from anyio import CapacityLimiter
from anyio.lowlevel import RunVar
from anyio.to_thread import run_sync

AT_ONCE = 40

P = ParamSpec("P")
Result = TypeVar("Result")
_room: RunVar[CapacityLimiter] = RunVar("webapp.pages.frame.patience")


def waits(handler: Callable[P, Result]) -> Callable[P, Awaitable[Result]]:
    """Let this handler of a request run in one of the threads for those that wait."""

    @functools.wraps(handler)
    async def waiting(*args: P.args, **kwargs: P.kwargs) -> Result:
        return await apart(functools.partial(handler, *args, **kwargs))

    return waiting


async def apart(work: Callable[[], Result]) -> Result:
    """Run this in one of the threads for those that wait."""
    try:
        room = _room.get()
    except LookupError:
        room = CapacityLimiter(AT_ONCE)
        _room.set(room)
    return await run_sync(work, limiter=room)
