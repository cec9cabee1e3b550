"""A lock on a file, and scratch folders that can be told from those which a killed program left behind."""

import os
import secrets
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Self

AT_WORK = ".at-work"
"""How the name of its lock ends."""
LEFT_BEHIND = 24 * 3600.0
"""Seconds after which a scratch folder without a lock is taken for left behind."""
# Far beyond what is written there: Windows lets nobody read what is locked.
_BYTE = 1 << 30
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)


class FileLock:
    """Held by one process at a time; the system lets go of it when that process ends, however it ends."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._number: int | None = None

    def take(self) -> bool:
        """Whether it is ours now. Never waits."""
        number = os.open(self.path, os.O_RDWR | os.O_CREAT | _NO_LINK, 0o600)
        try:
            if sys.platform == "win32":
                import msvcrt

                os.lseek(number, _BYTE, os.SEEK_SET)
                msvcrt.locking(number, msvcrt.LK_NBLCK, 1)
            else:
                import fcntl

                fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(number)
            return False
        self._number = number
        return True

    def write(self, content: bytes) -> None:
        """Write into the file that is held."""
        assert self._number is not None
        os.ftruncate(self._number, 0)
        os.lseek(self._number, 0, os.SEEK_SET)
        os.write(self._number, content)

    def release(self) -> None:
        if self._number is not None:
            os.close(self._number)
            self._number = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.release()


@contextmanager
def scratch_folder(prefix: str, within: Path | None = None) -> Iterator[Path]:
    """A new folder for the owner alone, gone afterwards. A lock beside it, there before it is and gone after it, says
    for how long somebody is at work there."""
    folder = (within or Path(tempfile.gettempdir())) / f"{prefix}{secrets.token_hex(8)}"
    with FileLock(lock_of(folder)) as lock:
        lock.take()
        try:
            folder.mkdir(mode=0o700)
            yield folder
        finally:
            shutil.rmtree(folder, ignore_errors=True)
            lock.path.unlink(missing_ok=True)


def lock_of(folder: Path) -> Path:
    return folder.with_name(folder.name + AT_WORK)


def is_left_behind(folder: Path) -> bool:
    """Whether nobody works in this scratch folder any more: the program was killed, the power failed."""
    if not lock_of(folder).exists():
        return folder.lstat().st_mtime < time.time() - LEFT_BEHIND
    with FileLock(lock_of(folder)) as lock:
        return lock.take()
