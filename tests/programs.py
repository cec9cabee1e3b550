"""Where the programs are that the tests drive: a Chromium and a PostgreSQL. Standard library only."""

import re
import shutil
from pathlib import Path

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")
CHROMIUM_ELSEWHERE = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
)
# Debian, Fedora and openSUSE, Homebrew on both kinds of Mac; newest version first within each.
POSTGRESQL_ELSEWHERE = (
    "usr/lib/postgresql/*/bin",
    "usr/pgsql-*/bin",
    "usr/lib/postgresql*/bin",
    "opt/homebrew/opt/postgresql*/bin",
    "usr/local/opt/postgresql*/bin",
)


def find_chromium() -> Path | None:
    """The path of a Chromium (or Chrome) to drive, or None."""
    for name in CHROMIUM_NAMES:
        if found := shutil.which(name):
            return Path(found)
    return next((Path(path) for path in CHROMIUM_ELSEWHERE if Path(path).exists()), None)


def find_postgresql(root: Path = Path("/")) -> Path | None:
    """The folder that holds PostgreSQL's `initdb` and `postgres`, or None."""
    if found := shutil.which("initdb"):
        folder = Path(found).resolve().parent
        if (folder / "postgres").exists():
            return folder
    for pattern in POSTGRESQL_ELSEWHERE:
        folders = [folder for folder in root.glob(pattern) if _is_complete(folder)]
        if folders:
            return max(folders, key=_version)
    return None


def _is_complete(folder: Path) -> bool:
    return (folder / "initdb").exists() and (folder / "postgres").exists()


def _version(folder: Path) -> list[int]:
    return [int(number) for number in re.findall(r"\d+", folder.parent.name)]
