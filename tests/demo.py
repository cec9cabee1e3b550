"""The demo shop for tests that need a shop full of work: made once in a run of the tests, whatever runs beside it."""

import fcntl
import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from seed_demo.make import make_demo

TODAY = datetime(2026, 3, 3, 14, 20, tzinfo=UTC)
PASSWORD = "for this test alone"


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder of a demo shop made on the day above: to be copied, never written to."""
    shared = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent
    folder = shared / "the-demo"
    with (shared / "the-demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not folder.exists():
            partial = shared / "the-demo-being-made"
            partial.mkdir()
            make_demo(f"sqlite:///{partial / 'shop.sqlite3'}", PASSWORD, TODAY)
            partial.rename(folder)
    return folder
