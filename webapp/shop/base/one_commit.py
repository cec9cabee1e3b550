"""Several of the shop's rules as one: all of what they did is kept, or none of it."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlmodel import Session


@contextmanager
def one_commit(session: Session) -> Iterator[None]:
    """Within it, each rule's own commit only writes down what it did; the caller commits once, at the end.

    A rule commits exactly once, at its end, so nothing of it is lost by this; an error leaves nothing behind once the
    caller rolls back.
    """
    own: Any = session
    own.commit = session.flush
    try:
        yield
    finally:
        del own.commit
