"""What SQLAlchemy made out of a statement for one test's engine serves the next test's.

A server has one engine for weeks; the tests have thousands, and would spend a fifth of their time on compiling the same
statements again.
"""

from collections.abc import Iterator
from typing import Any

import pytest
from sqlalchemy import Engine

from webapp import db

STATEMENTS = 4000


@pytest.fixture(scope="session", autouse=True)
def compiled_once() -> Iterator[None]:
    """All engines of a kind share the first one's dialect and its compiled statements."""
    first: dict[str, Any] = {}
    make_engine = db.make_engine

    def made(url: str) -> Engine:
        engine: Any = make_engine(url)
        known = first.setdefault(engine.dialect.name, engine)
        known._compiled_cache.capacity = STATEMENTS
        engine._compiled_cache = known._compiled_cache
        engine.dialect = engine.pool._dialect = known.dialect
        return engine

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(db, "make_engine", made)
        yield
