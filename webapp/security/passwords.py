"""Password hashing with Argon2id, at the library's current recommended cost; only so much of it at a time.

A hash takes 64 MiB. Whoever sends many passwords at once would otherwise take as much memory as they like, without an
account.
"""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final, TypeVar

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

AT_ONCE: Final = 2
WAITING: Final = 20
RETRY_AFTER: Final = 5  # s: all places are free again long before

Result = TypeVar("Result")

_hasher = PasswordHasher()

# Verified against when the name is unknown, so that the time taken tells nothing about who has an account.
_NOBODY = _hasher.hash("no one has this password")

_places = threading.BoundedSemaphore(AT_ONCE + WAITING)
_hashing = threading.BoundedSemaphore(AT_ONCE)
_mine = threading.local()


class Crowded(Exception):
    """More passwords are being checked already than there are places to wait in; nothing was looked at."""

    def __init__(self) -> None:
        super().__init__("Too many passwords are being checked at this moment. Try again in a few seconds.")


@contextmanager
def place() -> Iterator[None]:
    """A place among those whose secrets are hashed, kept while the block runs; a thread needs only one.

    To be taken before anything is locked in the database. Raises Crowded where there is none.
    """
    if getattr(_mine, "has_place", False):
        yield
        return
    if not _places.acquire(blocking=False):
        raise Crowded
    _mine.has_place = True
    try:
        yield
    finally:
        _mine.has_place = False
        _places.release()


def slowly(work: Callable[[], Result]) -> Result:
    """Carry out some hashing, when its turn comes. Raises Crowded."""
    with place(), _hashing:
        return work()


def hash_password(password: str) -> str:
    """Raises Crowded."""
    return slowly(lambda: _hasher.hash(password))


def verify_password(password: str, stored: str | None) -> bool:
    """Whether the password fits; takes as long for an unknown person (`stored` None) as for a wrong password.

    Raises Crowded.
    """
    try:
        return slowly(lambda: _hasher.verify(stored or _NOBODY, password)) and stored is not None
    except (VerificationError, InvalidHashError):
        return False


def needs_rehash(stored: str) -> bool:
    """Whether the stored hash was made at a lower cost than today's."""
    return _hasher.check_needs_rehash(stored)
