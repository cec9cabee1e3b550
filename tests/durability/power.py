"""What a loss of power would leave of a folder, at any moment of what is done in it.

POSIX promises of a file only what was in it at its last fsync, and of a folder only the names at its own last fsync;
file systems keep more, each something else (Pillai and others, All File Systems Are Not Created Equal, OSDI 2014).
So each moment is laid down in several ways: nothing kept that was not synced; names kept without the contents; new
names kept and removed ones still there. What SQLite writes is taken to be on the disk, since SQLite syncs it out of
Python's sight: that it is told to (synchronous = FULL) is checked in tests/test_db.py.
"""

import hashlib
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

WAYS = ("nothing kept", "names kept", "nothing removed")
_SQLITE = b"SQLite format 3\0"
Check = Callable[[Path, str], None]


class Disk:
    """The folder `root`, of which all is on the disk at first, and what of it was synced since."""

    def __init__(self, root: Path) -> None:
        self._root = root
        self._names: dict[int, dict[str, int]] = {}
        self._contents: dict[int, bytes] = {}
        self._open: dict[int, int] = {}
        for path in (root, *root.rglob("*")):
            self.synced(path)

    def close(self) -> None:
        for number in self._open.values():
            os.close(number)

    def synced(self, path: Path) -> None:
        """This file or folder is on the disk as it is now."""
        number = self._number(path)
        if path.is_dir():
            self._names[number] = {one.name: self._number(one) for one in path.iterdir()}
        else:
            self._contents[number] = path.read_bytes()

    def fsynced(self, handle: int) -> None:
        if self.has(handle):
            self.synced(Path(f"/proc/self/fd/{handle}").readlink())

    def has(self, handle: int) -> bool:
        return Path(f"/proc/self/fd/{handle}").readlink().is_relative_to(self._root)

    def leave(self, way: str, into: Path) -> None:
        """Lay down what there would be, were the power lost now."""
        self._leave(self._number(self._root), self._root, way, into)

    def _leave(self, number: int, now: Path | None, way: str, into: Path) -> None:
        into.mkdir()
        names = dict(self._names.get(number, {}))
        present = {one.name: one for one in now.iterdir()} if now and now.is_dir() else {}
        for name, path in present.items():
            # SQLite syncs the folder itself when it makes a log.
            if way != "nothing kept" or name.endswith(("-wal", "-journal")):
                names[name] = self._number(path)
        if way == "names kept":
            names = {name: one for name, one in names.items() if name in present}
        at = {self._number(path): path for path in present.values()}
        for name, one in names.items():
            if os.path.isdir(f"/proc/self/fd/{self._open[one]}"):  # noqa: PTH112
                self._leave(one, at.get(one), way, into / name)
            elif not name.endswith("-shm"):
                (into / name).write_bytes(self._content(one, name))

    def _content(self, number: int, name: str) -> bytes:
        size = os.fstat(self._open[number]).st_size
        now = os.pread(self._open[number], size, 0)
        if now.startswith(_SQLITE) or name.endswith(("-wal", "-journal")):
            return now
        return self._contents.get(number, b"")

    def _number(self, path: Path) -> int:
        """Its inode, held open so that no other takes the number."""
        number = path.lstat().st_ino
        if number not in self._open:
            self._open[number] = os.open(path, os.O_RDONLY)
        return number


@contextmanager
def lost_at_every_moment(root: Path, scratch: Path, check: Check) -> Iterator[Callable[[], int]]:
    """While the block runs, `check` looks at what a loss of power would leave before each rename, removal and sync.

    It is told "under way". What the block is given looks once more, at "done", and counts the moments. Raises Lost.
    """
    disk, moments, number = Disk(root), 0, 0
    seen: set[tuple[str, str]] = set()

    def look(when: str) -> None:
        nonlocal moments, number
        moments += 1
        for way in WAYS:
            number += 1
            place = scratch / f"{number}"
            disk.leave(way, place)
            # Most moments leave the same as the one before.
            if (left := (when, _all_of(place))) not in seen:
                try:
                    check(place, when)
                except AssertionError as error:
                    raise Lost(f"{when}, {way}: {error}") from error
            seen.add(left)
            shutil.rmtree(place)

    def done() -> int:
        look("done")
        return moments

    def ours(name: object) -> bool:
        return isinstance(name, str | os.PathLike) and Path(os.fspath(name)).is_relative_to(root)  # type: ignore[arg-type]

    with pytest.MonkeyPatch.context() as patch:
        checking = False

        def before(real: Callable[..., Any], is_ours: Callable[..., bool]) -> Callable[..., Any]:
            def spied(*given: Any, **more: Any) -> Any:
                nonlocal checking
                if not checking and is_ours(*given):
                    checking = True
                    try:
                        look("under way")
                    finally:
                        checking = False
                return real(*given, **more)

            return spied

        real_fsync = os.fsync

        def fsync(handle: int) -> None:
            real_fsync(handle)
            if not checking:
                disk.fsynced(handle)

        patch.setattr(os, "fsync", before(fsync, disk.has))
        for name in ("replace", "rename"):
            patch.setattr(os, name, before(getattr(os, name), lambda _source, target, **_: ours(target)))
        patch.setattr(os, "unlink", before(os.unlink, lambda name, **_: ours(name)))
        try:
            yield done
        finally:
            disk.close()


def _all_of(place: Path) -> str:
    found = hashlib.sha256()
    for path in sorted(place.rglob("*")):
        found.update(f"{path.relative_to(place)}\0".encode() + (path.read_bytes() if path.is_file() else b"\0"))
    return found.hexdigest()


class Lost(AssertionError):
    """Something is not whole after the power was lost."""
