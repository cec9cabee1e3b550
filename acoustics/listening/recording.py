"""Recordings: decoded block by block, within limits, in a process of their own."""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final

import numpy as np

from acoustics.errors import InvalidInput
from acoustics.listening.containers import recognised
from acoustics.listening.pitch import Singles

_BLOCK = 1 << 16
_SLACK = 0.1
"""How far the length a file gives may be off, s: coders add and trim parts of a frame."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits of a recording: bytes of the file, seconds, channels, samples a second; bytes of memory and seconds
    of processor time to decode it."""

    bytes: int = 64_000_000
    seconds: float = 600.0
    channels: int = 2
    lowest_rate: int = 8_000
    highest_rate: int = 192_000
    memory: int = 160_000_000
    processor_seconds: int = 60


LIMITS: Final = Limits()


class Decoding:
    """A recording being decoded: `rate` in samples a second, `channels`, and its `blocks`."""

    def __init__(self, process: subprocess.Popen[bytes], complaints: BinaryIO, limits: Limits) -> None:
        self._process = process
        self._complaints = complaints
        self._limits = limits
        assert process.stdout is not None
        self._out = process.stdout
        head = self._out.readline(1000)
        if not head.endswith(b"\n"):
            raise self._refusal()
        said = json.loads(head)
        self.rate: int = said["rate"]
        self.channels: int = said["channels"]
        self._claimed: float | None = said["claimed"]

    def blocks(self) -> Iterator[Singles]:
        """The sound in blocks (m, channels), full scale 1. Raises InvalidInput where it turns out bad."""
        heard = 0
        while data := self._out.read(4 * self.channels * _BLOCK):
            samples = len(data) // (4 * self.channels)
            heard += samples
            yield np.frombuffer(data, np.float32, samples * self.channels).reshape(-1, self.channels)
        if self._process.wait() != 0:
            raise self._refusal()
        seconds = heard / self.rate
        if heard == 0:
            raise InvalidInput("seconds", 0.0, "must contain sound")
        if self._claimed is not None and abs(self._claimed - seconds) > _SLACK:
            raise InvalidInput(
                "seconds",
                round(self._claimed, 2),
                f"must be as long as its header says, but contains {seconds:.2f} s; save it again",
            )

    def _refusal(self) -> InvalidInput:
        """The reason why the decoder stopped."""
        status = self._process.wait()
        self._complaints.seek(0)
        said = self._complaints.read(2000)
        if status == 2:
            try:
                field, value, limit = json.loads(said)
                return InvalidInput(field, value, limit)
            except ValueError:
                pass
        if b"MemoryError" in said:
            return InvalidInput("memory", "too much", f"must be decoded within {self._limits.memory // 1_000_000} MB")
        return InvalidInput("FILE", "the decoder gave up", "must be a complete recording that can be decoded")


@contextmanager
def decoded(source: Path | BinaryIO, limits: Limits = LIMITS) -> Iterator[Decoding]:
    """Decode `source`, a path or an open file of the system's that can seek, while the block runs.

    Raises InvalidInput for what is no recording (WAV, FLAC, OGG, MP3 or M4A), is longer or shorter than it says, or
    breaks one of the `limits`.
    """
    with _opened(source) as file, tempfile.TemporaryFile() as complaints:
        found = os.fstat(file.fileno())
        if not 0 < found.st_size <= limits.bytes:
            raise InvalidInput("FILE", f"{found.st_size} bytes", f"must be 1 to {limits.bytes} bytes")
        order = {
            "container": recognised(file, found.st_size),
            "seconds": limits.seconds,
            "channels": limits.channels,
            "lowest_rate": limits.lowest_rate,
            "highest_rate": limits.highest_rate,
            "memory": limits.memory,
            "processor_seconds": limits.processor_seconds,
        }
        os.lseek(file.fileno(), 0, os.SEEK_SET)
        script = str(Path(__file__).with_name("decoder.py"))
        process = subprocess.Popen(
            [sys.executable, "-P", script, json.dumps(order)], stdin=file, stdout=subprocess.PIPE, stderr=complaints
        )
        try:
            yield Decoding(process, complaints, limits)
        finally:
            process.kill()
            process.wait()
            assert process.stdout is not None
            process.stdout.close()


@contextmanager
def _opened(source: Path | BinaryIO) -> Iterator[BinaryIO]:
    if not isinstance(source, Path):
        yield source
        return
    try:
        # Not to wait for a pipe that nobody writes to.
        handle = os.open(source, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    except (OSError, ValueError) as failed:
        reason = getattr(failed, "strerror", None) or "cannot be opened"
        raise InvalidInput("FILE", str(source), reason) from None
    if not stat.S_ISREG(os.fstat(handle).st_mode):
        os.close(handle)
        raise InvalidInput("FILE", str(source), "must be a file")
    with os.fdopen(handle, "rb") as file:
        yield file
