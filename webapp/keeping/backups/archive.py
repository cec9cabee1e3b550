"""A backup is one tar file: the database, the photos, and a list of what is in it with digests to check against.

It may have been put together by somebody who means harm: only files of the names that we give are taken out of it, each
once, none larger than the archive itself.
"""

import hashlib
import os
import re
import tarfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from pydantic import TypeAdapter, ValidationError

from webapp.shop.blanks import photo_files

NAME, BY_HAND, ENDING = "flutebench-", "-by-hand", ".tar"
LIST = "contents.json"
SQLITE, POSTGRESQL = "shop.sqlite3", "shop.pgdump"
PHOTOS = photo_files.FOLDER
_LARGEST_LIST = 64_000_000
_LARGEST_HEADER = 65_536
_STAMP = "%Y%m%d-%H%M%S"
_BLOCK: Final = 512
_PLAIN, _MORE_OF_THE_NEXT = (b"0", b"\0"), b"x"
_SIZE = re.compile(rb"(?:^|\n)\d+ size=(\d{1,18})\n")


class NotSound(Exception):
    """A backup that can't be relied on; the text says why."""


@dataclass(frozen=True, slots=True)
class Contents:
    """What a backup holds: the schema's revision, how many rows each table had, and a digest for each file."""

    made_at: str
    schema: str | None
    database: str  # SQLITE or POSTGRESQL
    rows: dict[str, int]
    files: dict[str, str]

    def to_json(self) -> str:
        return _as_json.dump_json(self, indent=1).decode()

    @classmethod
    def from_json(cls, text: str | bytes) -> "Contents":
        """Raises NotSound."""
        try:
            contents = _as_json.validate_json(text, strict=True)
            datetime.fromisoformat(contents.made_at)
        except (ValidationError, ValueError) as error:
            raise NotSound("its list of contents can't be read") from error
        if contents.database not in (SQLITE, POSTGRESQL) or contents.database not in contents.files:
            raise NotSound("its list of contents names no database")
        return contents


_as_json = TypeAdapter(Contents)


def file_name(moment: datetime, by_hand: bool = False) -> str:
    return f"{NAME}{moment.astimezone(UTC).strftime(_STAMP)}{BY_HAND if by_hand else ''}{ENDING}"


def moment_of(path: Path) -> datetime | None:
    """When the backup of this name was made, or None for any other file."""
    if not (path.name.startswith(NAME) and path.name.endswith(ENDING)):
        return None
    try:
        stamp = path.name[len(NAME) : -len(ENDING)].removesuffix(BY_HAND)
        return datetime.strptime(stamp, _STAMP).replace(tzinfo=UTC)
    except ValueError:
        return None


def is_by_hand(path: Path) -> bool:
    """Whether somebody asked for this backup, rather than the clock."""
    return path.name.endswith(f"{BY_HAND}{ENDING}")


def digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def read_contents(archive: Path) -> Contents:
    """Raises NotSound, OSError."""
    with _opened(archive) as tar:
        return _contents(tar, archive)


def unpack(archive: Path, into: Path) -> Contents:
    """Unpack a backup into a folder and check every file against its digest. Raises NotSound, OSError."""
    into.mkdir(parents=True, exist_ok=True)
    with _opened(archive) as tar:
        contents = _contents(tar, archive)
        missing = dict(contents.files)
        for member in _rest(tar):
            expected = missing.pop(member.name, None)
            if expected is None:
                raise NotSound(f"{archive.name} holds {member.name[:80]!r}, which is not on its list, or twice")
            if not _is_ours(member.name, contents):
                raise NotSound(f"{archive.name} holds {member.name[:80]!r}, a name that Flutebench never gives")
            if _unpack_one(tar, member, into / member.name) != expected:
                raise NotSound(f"{member.name} in {archive.name} is not what was backed up")
        if missing:
            raise NotSound(f"{archive.name} lacks {min(missing)[:80]!r}")
        return contents


@contextmanager
def _opened(archive: Path) -> Iterator[tarfile.TarFile]:
    """Never one that is packed: ours are not, and a small one could hold more than the disk."""
    _look_at_headers(archive)
    try:
        with tarfile.open(archive, "r:") as tar:
            yield tar
    except (tarfile.TarError, EOFError, OverflowError, ValueError) as error:
        raise NotSound(f"{archive.name} is no backup of Flutebench, or damaged: {error}") from error


def _look_at_headers(archive: Path) -> None:
    """Only plain files, with headers of a reasonable size: nothing else is read any further (POSIX.1-2017, pax)."""
    with archive.open("rb") as file:
        size, further = os.fstat(file.fileno()).st_size, b""
        while (block := file.read(_BLOCK)) and block.strip(b"\0"):
            kind, told = block[156:157], _SIZE.search(further)
            try:
                # What needs more than eleven digits stands in the header before it.
                length = int(told[1]) if told else int(block[124:136].strip(b" \0") or b"0", 8)
            except ValueError:
                length = -1
            if kind not in (*_PLAIN, _MORE_OF_THE_NEXT) or not 0 <= length <= size:
                raise NotSound(f"{archive.name} is no backup of Flutebench, or damaged: it holds more than plain files")
            further = b""
            if kind == _MORE_OF_THE_NEXT:
                if length > _LARGEST_HEADER:
                    raise NotSound(f"{archive.name} is no backup of Flutebench: one of its headers is too large")
                further = file.read(length)
                length = -length % _BLOCK
            else:
                length += -length % _BLOCK
            file.seek(length, os.SEEK_CUR)


def _contents(tar: tarfile.TarFile, archive: Path) -> Contents:
    first = tar.next()
    if first is None or first.name != LIST or not first.isreg() or first.size > _LARGEST_LIST:
        raise NotSound(f"{archive.name} does not begin with a list of contents")
    file = tar.extractfile(first)
    assert file is not None
    return Contents.from_json(file.read())


def _rest(tar: tarfile.TarFile) -> Iterator[tarfile.TarInfo]:
    while (member := tar.next()) is not None:
        yield member


# A picture that was just being written when the backup was made still has its first name.
_KEPT = re.compile(rf"{PHOTOS}/{photo_files.FILE}(\.partial)?")


def _is_ours(name: str, contents: Contents) -> bool:
    return name == contents.database or _KEPT.fullmatch(name) is not None


def _unpack_one(tar: tarfile.TarFile, member: tarfile.TarInfo, to: Path) -> str:
    """Write the file for its owner alone; gives its digest."""
    if not member.isreg() or member.issparse():
        raise NotSound(f"{member.name[:80]!r} in it is no plain file")
    source = tar.extractfile(member)
    assert source is not None
    to.parent.mkdir(mode=0o700, exist_ok=True)
    read, number = hashlib.sha256(), os.open(to, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(number, "wb") as target:
        while piece := source.read(1 << 20):
            read.update(piece)
            target.write(piece)
    return read.hexdigest()
