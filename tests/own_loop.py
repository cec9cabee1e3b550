"""Running a coroutine from a test, also where the main thread has a loop already, as a browser's driver makes one."""

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

Result = TypeVar("Result")


def run(coroutine: Coroutine[Any, Any, Result]) -> Result:
    """What the coroutine gives, run in a loop of its own, in a thread of its own."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, coroutine).result()
