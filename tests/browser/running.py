"""The shop served from a thread, and how Chromium is started."""

import socket
import threading
import time
from contextlib import closing

import uvicorn

from webapp.app import make_app
from webapp.pages.bench.live import LARGEST_MESSAGE
from webapp.settings import Settings

# Chromium must not look for anything outside: the tests run without a network.
PATIENCE = 60_000
"""Milliseconds that a test waits for what it needs: a busy machine takes its time."""
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


class Server:
    """The shop as `flutebench serve` runs it, in a thread of the test's own process."""

    def __init__(self, settings: Settings, port: int = 0) -> None:
        with closing(socket.socket()) as free:
            free.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            free.bind(("127.0.0.1", port))
            port = free.getsockname()[1]
        self.port = port
        self.address = f"http://127.0.0.1:{port}"
        self.settings = settings
        self.app = make_app(settings)
        self._server = uvicorn.Server(
            uvicorn.Config(self.app, host="127.0.0.1", port=port, log_level="warning", ws_max_size=LARGEST_MESSAGE)
        )
        self._thread = threading.Thread(target=self._server.run, daemon=True)

    def start(self) -> None:
        self._thread.start()
        until = time.monotonic() + 20
        while not self._server.started:
            assert time.monotonic() < until, "the server did not start"
            time.sleep(0.02)

    def stop(self) -> None:
        self._server.should_exit = True
        self._thread.join(timeout=15)
