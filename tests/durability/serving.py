"""A server that can be killed and started again in a few milliseconds.

Run as a program: it loads the application once, then forks a server for each line `port` on its standard input and
answers with the server's process id. The parent of these tests kills that process as hard as can be.
"""

import os
import signal
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from typing import Self

ROOT = Path(__file__).parents[2]


class Killable:
    """The program below, from outside. Leaving it ends whatever still runs."""

    def __init__(self, data: Path, database_url: str = "") -> None:
        self._data = data
        self._url = database_url
        self.pid = 0

    def __enter__(self) -> Self:
        self._program = subprocess.Popen(
            [sys.executable, "-m", "tests.durability.serving", str(self._data), self._url],
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        return self

    def start(self, port: int) -> None:
        assert self._program.stdin is not None
        assert self._program.stdout is not None
        print(port, file=self._program.stdin, flush=True)
        self.pid = int(self._program.stdout.readline())

    def kill(self) -> None:
        """SIGKILL: no handler runs, nothing is flushed, nothing is closed."""
        if self.pid:
            with suppress(ProcessLookupError):  # a test that was broken off: there may be nothing left to kill
                os.kill(self.pid, signal.SIGKILL)
            self.pid = 0

    def __exit__(self, *_: object) -> None:
        self.kill()
        assert self._program.stdin is not None
        self._program.stdin.close()
        self._program.wait(timeout=120)
        if self._program.stdout is not None:
            self._program.stdout.close()


def main(data: str, database_url: str) -> None:
    import uvicorn

    from webapp.app import make_app
    from webapp.settings import Settings

    settings = Settings(data=Path(data), database_url=database_url)
    app = make_app(settings)
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # the killed ones need not be waited for
    for line in sys.stdin:
        pid = os.fork()
        if pid == 0:
            uvicorn.run(app, host="127.0.0.1", port=int(line), log_level="critical", access_log=False)
            os._exit(0)
        print(pid, flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:3])
