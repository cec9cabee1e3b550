"""How the server's own process and the workers beside it are set, so that whoever waits for a page waits least."""

import ctypes
import os
import sys
from contextlib import suppress

# A thread that computes lets the others in this often [s]; by default only every 5 ms, at each of a page's questions to
# the database.
SWITCH_EVERY = 0.0005
# mallopt(3): with an arena for every few threads, memory that one thread gave back is of no use to the next.
_M_ARENA_MAX, ARENAS = -8, 2


def serve_people() -> None:
    """For the process that answers people, before it has threads."""
    sys.setswitchinterval(SWITCH_EVERY)
    _share_memory()


def stand_back() -> None:
    """For a worker beside it: whoever waits for a page goes first."""
    _share_memory()
    with suppress(OSError, AttributeError):
        os.nice(10)


def _share_memory() -> None:
    """Keep the number of the C library's arenas down, where it is glibc."""
    with suppress(OSError, AttributeError):
        ctypes.CDLL(None).mallopt(_M_ARENA_MAX, ARENAS)
