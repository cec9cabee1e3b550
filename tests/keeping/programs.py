"""The command `flutebench` in a process of its own, as people and systemd run it."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from webapp.keeping.hold import in_use
from webapp.settings import Settings

ROOT = Path(__file__).parents[2]
# Without the wait for others that a person would not mind.
STARTED = "from webapp import cli; cli.PATIENCE = 0.0; cli.main()"


def environment(settings: Settings) -> dict[str, str]:
    own = {name: value for name, value in os.environ.items() if not name.startswith("FLUTEBENCH_")}
    said = {"FLUTEBENCH_DATA": str(settings.data), "FLUTEBENCH_PORT": "0", "FLUTEBENCH_BACKUP_HOURS": "0"}
    if settings.database_url:
        said["FLUTEBENCH_DATABASE_URL"] = settings.database_url
    return own | said | {"PYTHONPATH": str(ROOT)}


def run(settings: Settings, *words: str, more: Mapping[str, str] | None = None) -> subprocess.CompletedProcess[str]:
    """What came of a command; what it said is all in `stdout`."""
    return subprocess.run(
        [sys.executable, "-c", STARTED, *words],
        env=environment(settings) | dict(more or {}),
        cwd=settings.data.parent,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        timeout=120,
    )


@contextmanager
def serving(settings: Settings) -> Iterator[subprocess.Popen[bytes]]:
    """A server that has the shop open; killed afterwards if it still runs."""
    with subprocess.Popen(
        [sys.executable, "-c", STARTED, "serve"],
        env=environment(settings),
        cwd=settings.data.parent,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as server:
        try:
            until = time.monotonic() + 90
            while not any(one.pid == server.pid for one in in_use.holders(settings.database)):
                assert server.poll() is None and time.monotonic() < until, "the server did not start"
                time.sleep(0.05)
            yield server
        finally:
            server.kill()
