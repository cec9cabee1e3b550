"""The folder of pictures and papers: files under random names, whole or not there at all."""

import os
import re
import secrets
import time
from collections.abc import Iterable
from pathlib import Path

from webapp import db
from webapp.models import FileKind
from webapp.shop.blanks.pictures import Ready

FOLDER = "photos"
FILE = r"[0-9a-f]{32}(-small)?\.(jpg|pdf)"
"""What the name of a file in it looks like, as a regular expression."""
_FILE = re.compile(FILE)
_NAMED = re.compile(r"[0-9a-f]{32}\.(jpg|pdf)")
ENDING = {FileKind.PICTURE: ".jpg", FileKind.PAPER: ".pdf"}
# A file without a row is left alone for so long: its row may be about to be written, or the database may be an older
# one that was put back and will be changed again for the newer.
GRACE = 30 * 86_400.0  # seconds


def folder_of(data: Path) -> Path:
    return data / FOLDER


def is_name(file_name: str) -> bool:
    """Whether a row may name its file so: nothing that leads elsewhere, whoever wrote the row."""
    return _NAMED.fullmatch(file_name) is not None


def is_one(path: Path) -> bool:
    """Whether this is a file of the folder, whole: a picture, the small one beside it, or a paper."""
    return _FILE.fullmatch(path.name) is not None and path.is_file() and not path.is_symlink()


def path_of(data: Path, file_name: str, small: bool = False) -> Path | None:
    """Where the file lies that a row names; None where there is none, or where it is not a file of the folder."""
    if not is_name(file_name):
        return None
    folder = folder_of(data)
    path = folder / (small_name(file_name) if small else file_name)
    inside = path.is_file() and path.resolve().parent == folder.resolve()
    return path if inside else None


def small_name(file_name: str) -> str:
    """The name of the small picture beside a picture."""
    path = Path(file_name)
    return f"{path.stem}-small{path.suffix}"


def write(data: Path, ready: Ready) -> str:
    """Keep the file, and the small picture of it; gives its name. Both are on the disk when this returns."""
    folder = folder_of(data)
    folder.mkdir(parents=True, exist_ok=True)
    name = secrets.token_hex(16) + ENDING[ready.kind]
    if ready.small is not None:
        _write(folder / small_name(name), ready.small)
    _write(folder / name, ready.content)
    db.settle(folder)
    db.settle(data)  # the folder itself may be new
    return name


def _write(path: Path, content: bytes) -> None:
    partial = path.with_name(path.name + ".partial")
    with partial.open("xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    partial.replace(path)


def remove(data: Path, file_name: str) -> None:
    for name in (file_name, small_name(file_name)):
        (folder_of(data) / name).unlink(missing_ok=True)


def sweep(data: Path, named: Iterable[str]) -> int:
    """Remove files that no row names, left behind by a computer that stopped in the middle; gives how many."""
    folder = folder_of(data)
    if not folder.is_dir():
        return 0
    keep = {name for file_name in named for name in (file_name, small_name(file_name))}
    gone = 0
    for path in folder.iterdir():
        try:
            if path.name not in keep and path.is_file() and time.time() - path.stat().st_mtime > GRACE:
                path.unlink(missing_ok=True)
                gone += 1
        except OSError:
            continue  # someone else's file, or gone already: another sweep will see
    return gone
