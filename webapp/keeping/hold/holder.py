"""A process that has the shop open."""

import os
import socket
from dataclasses import dataclass
from datetime import UTC, datetime


@dataclass(frozen=True, slots=True)
class Holder:
    """A process that has the shop open, and whether it wants it for itself alone."""

    program: str
    pid: int
    host: str
    since: datetime
    alone: bool

    @classmethod
    def me(cls, program: str, alone: bool) -> "Holder":
        return cls(program, os.getpid(), socket.gethostname(), datetime.now(UTC), alone)

    def is_here(self) -> bool:
        return self.host == socket.gethostname()

    def __str__(self) -> str:
        since = f"{self.since.astimezone(UTC):%Y-%m-%d %H:%M} UTC"
        return f"flutebench {self.program} (process {self.pid} on {self.host}, since {since})"
