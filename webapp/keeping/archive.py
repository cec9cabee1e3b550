"""A backup is one tar file: the database, the photos, and a list of what is in it with digests to check against."""

import hashlib
import json
import tarfile
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

NAME = "flutebench-"
ENDING = ".tar"
LIST = "contents.json"
SQLITE, POSTGRESQL = "shop.sqlite3", "shop.pgdump"
PHOTOS = "photos"
_LARGEST_LIST = 64_000_000
_STAMP = "%Y%m%d-%H%M%S"


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
        return json.dumps(asdict(self), indent=1, sort_keys=True)

    @classmethod
    def from_json(cls, text: str | bytes) -> "Contents":
        """Raises NotSound."""
        try:
            contents = cls(**json.loads(text))
            datetime.fromisoformat(contents.made_at)
        except (ValueError, TypeError) as error:
            raise NotSound("its list of contents can't be read") from error
        if contents.database not in (SQLITE, POSTGRESQL) or contents.database not in contents.files:
            raise NotSound("its list of contents names no database")
        return contents


def file_name(moment: datetime) -> str:
    return f"{NAME}{moment.astimezone(UTC).strftime(_STAMP)}{ENDING}"


def moment_of(path: Path) -> datetime | None:
    """When the backup of this name was made, or None for any other file."""
    if not (path.name.startswith(NAME) and path.name.endswith(ENDING)):
        return None
    try:
        return datetime.strptime(path.name[len(NAME) : -len(ENDING)], _STAMP).replace(tzinfo=UTC)
    except ValueError:
        return None


def digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def read_contents(archive: Path) -> Contents:
    """Raises NotSound, OSError."""
    try:
        with tarfile.open(archive) as tar:
            first = tar.next()
            if first is None or first.name != LIST or not first.isfile() or first.size > _LARGEST_LIST:
                raise NotSound(f"{archive.name} does not begin with a list of contents")
            file = tar.extractfile(first)
            assert file is not None
            return Contents.from_json(file.read())
    except tarfile.TarError as error:
        raise NotSound(f"{archive.name} is no backup of Flutebench: {error}") from error


def unpack(archive: Path, into: Path) -> Contents:
    """Unpack a backup into an empty folder and check every file against its digest. Raises NotSound, OSError."""
    contents = read_contents(archive)
    into.mkdir(parents=True, exist_ok=True)
    try:
        with tarfile.open(archive) as tar:
            # The library's own guard against names that lead out of the folder, links and devices (PEP 706).
            tar.extractall(into, filter="data")
    except (tarfile.TarError, EOFError) as error:
        raise NotSound(f"{archive.name} is damaged: {error}") from error
    for name, expected in contents.files.items():
        path = into / name
        if not path.resolve().is_relative_to(into.resolve()) or not path.is_file():
            raise NotSound(f"{archive.name} lacks {name}")
        if digest(path) != expected:
            raise NotSound(f"{name} in {archive.name} is not what was backed up")
    return contents
