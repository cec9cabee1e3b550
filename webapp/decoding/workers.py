"""Processes that open what was sent: a few at once, each within limits, ended when they have nothing to do."""

import json
import logging
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Protocol

import webapp
from webapp.decoding import scanner, wire
from webapp.decoding.made import Made, Refused

log = logging.getLogger("flutebench")

_ROOT = str(Path(webapp.__file__).parents[1])
_OUT_OF_TIME = -int(getattr(signal, "SIGXCPU", 10_000))  # as the exit code, where the system has such a limit
TOO_LONG = "Opening it took too long and was given up. Send it in another form, or a picture of it."
STOPPED = "It could not be opened: the program that opens such files was ended by it. Send it in another form."


class Busy(Exception):
    """Many files are being opened already; nothing was looked at."""


class Opens(Protocol):
    """Whatever opens a file that was sent."""

    def opened(self, sent: bytes) -> Made:
        """Raises Refused, Busy."""


class Workers:
    """At most `at_once` files are opened at a time and `waiting` more may wait, for `patience` seconds.

    Each may take `processor_seconds`, on a busy computer `seconds` by the clock, and its worker `memory` bytes. A
    worker that has had nothing to do for `idle` seconds is ended. `scan`: a command that reads each file first.
    """

    def __init__(
        self,
        at_once: int = 2,
        waiting: int = 20,
        patience: float = 40.0,
        seconds: float = 60.0,
        processor_seconds: int = 15,
        memory: int = 320_000_000,
        idle: float = 60.0,
        scan: Sequence[str] = (),
    ) -> None:
        self._scan = scan
        self._room = threading.BoundedSemaphore(at_once + waiting)
        self._turn = threading.BoundedSemaphore(at_once)
        self._patience = patience
        self._seconds = seconds
        self._limits = json.dumps({"memory": memory, "seconds": processor_seconds})
        self._idle_for = idle
        self._lock = threading.Lock()
        self._idle: list[_Worker] = []
        self._at_work: set[_Worker] = set()
        self._sweeper: threading.Timer | None = None
        self._closed = False

    def opened(self, sent: bytes) -> Made:
        """What is made of a file. Raises Refused, Busy."""
        with self._place():
            if self._scan:
                scanner.look_through(self._scan, sent, self._seconds)
            worker = self._take()
            try:
                return worker.opened(sent, self._seconds)
            finally:
                self._give_back(worker)

    def processes(self) -> list[int]:
        """The workers' numbers, of those that are there now."""
        with self._lock:
            return [one.pid for one in (*self._idle, *self._at_work)]

    def close(self) -> None:
        """End the workers, whatever they are doing. Nothing more is opened."""
        with self._lock:
            self._closed = True
            ended, self._idle = [*self._idle, *self._at_work], []
            sweeper, self._sweeper = self._sweeper, None
        if sweeper is not None:
            sweeper.cancel()
        for worker in ended:
            worker.end()

    @contextmanager
    def _place(self) -> Iterator[None]:
        if not self._room.acquire(blocking=False):
            raise Busy
        try:
            if not self._turn.acquire(timeout=self._patience):
                raise Busy
            try:
                yield
            finally:
                self._turn.release()
        finally:
            self._room.release()

    def _take(self) -> "_Worker":
        with self._lock:
            if self._closed:
                raise Busy
            while self._idle:
                worker = self._idle.pop()
                if worker.is_alive():
                    break
                worker.end()
            else:
                worker = _Worker(self._limits)
            self._at_work.add(worker)
            return worker

    def _give_back(self, worker: "_Worker") -> None:
        with self._lock:
            self._at_work.discard(worker)
            if not self._closed and worker.is_alive():
                worker.since = time.monotonic()
                self._idle.append(worker)
                self._sweep_later()
                return
        worker.end()

    def _sweep_later(self) -> None:
        if self._sweeper is None:
            self._sweeper = threading.Timer(self._idle_for, self._sweep)
            self._sweeper.daemon = True
            self._sweeper.start()

    def _sweep(self) -> None:
        """End those that had nothing to do."""
        with self._lock:
            self._sweeper = None
            before = time.monotonic() - self._idle_for
            ended = [one for one in self._idle if one.since <= before]
            self._idle = [one for one in self._idle if one.since > before]
            if self._idle and not self._closed:
                self._sweep_later()
        for worker in ended:
            worker.end()


def _surroundings() -> dict[str, str]:
    """The server's own, without its settings, among which a database's password may be."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("FLUTEBENCH_", "PG"))}
    return kept | {"PYTHONPATH": _ROOT}


class _Worker:
    """One process, and the pipes to it."""

    def __init__(self, limits: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "webapp.decoding.worker", limits],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=_surroundings(),
        )
        self.pid = self._process.pid
        self.since = 0.0
        self._given_up = False
        self._is_over = False

    def opened(self, sent: bytes, seconds: float) -> Made:
        """What it makes of a file. Raises Refused, also where it had to be ended."""
        assert self._process.stdin is not None and self._process.stdout is not None
        timer = threading.Timer(seconds, self._give_up)
        timer.start()
        try:
            wire.write_file(self._process.stdin, sent)  # type: ignore[arg-type]
            answer, self._is_over = wire.read_answer(self._process.stdout)  # type: ignore[arg-type]
        except (OSError, EOFError, ValueError) as error:
            self._is_over = True
            code = self._ended_with()
            log.error("a worker that opens files ended with %s: %r", code, error)
            took_too_long = self._given_up or code == _OUT_OF_TIME
            raise Refused(TOO_LONG if took_too_long else STOPPED) from None
        finally:
            timer.cancel()
            timer.join()
        if isinstance(answer, Refused):
            raise answer
        return answer

    def is_alive(self) -> bool:
        return not self._is_over and not self._given_up and self._process.poll() is None

    def _ended_with(self) -> int:
        """The exit code of a process whose pipe was closed: it is about to end, or else it is made to."""
        try:
            return self._process.wait(5)
        except subprocess.TimeoutExpired:
            self._process.kill()
            return self._process.wait()

    def end(self) -> None:
        with suppress(OSError):
            self._process.kill()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            # What was written to it and not read is of no use to anybody.
            with suppress(OSError):
                if pipe is not None:
                    pipe.close()

    def _give_up(self) -> None:
        self._given_up = True
        self._process.kill()
