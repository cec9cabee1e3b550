"""What programs that were killed left half made: found, told of, removed."""

import os
import re
import shutil
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa

from webapp import db
from webapp.keeping.hold.file_lock import AT_WORK, LEFT_BEHIND, is_left_behind, lock_of
from webapp.settings import Settings

BEING_MADE, RESTORING, CHECKING = ".being-made-", ".restoring-", "flutebench-check-"
PARTIAL = ".partial"
SCRATCH_DATABASE, STAMP = "flutebench_check_", "%Y%m%d%H%M%S%f"


def find(settings: Settings) -> list[Path]:
    """Folders and files that nobody is working at any more."""
    places = {
        RESTORING: settings.data,
        BEING_MADE: settings.backup_folder,
        CHECKING: Path(tempfile.gettempdir()),
    }
    begun = {path for prefix, place in places.items() for path in place.glob(f"{prefix}*")}
    # A lock without its folder counts for the folder: its program ended before it had made it, or just after.
    folders = {path.with_name(path.name.removesuffix(AT_WORK)) for path in begun}
    before = time.time() - LEFT_BEHIND
    copies = {path for place in _places(settings) for path in place.glob(f"*.sqlite3{PARTIAL}*")}
    return sorted(filter(_is_left, folders)) + sorted(
        path for path in copies if path.is_file() and path.stat().st_mtime < before
    )


def sweep(settings: Settings) -> list[Path]:
    """Remove them; gives what was removed."""
    found = find(settings)
    for path in found:
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)
        lock_of(path).unlink(missing_ok=True)
    return [path for path in found if not path.exists()]


def drop_scratch_databases(url: str) -> None:
    """On PostgreSQL, the scratch databases of checks that were cut short a day ago or longer."""
    if db.sqlite_path(url) is not None:
        return
    before = datetime.fromtimestamp(time.time() - LEFT_BEHIND, UTC)
    engine = sa.create_engine(url, isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
    try:
        with engine.connect() as connection:
            asked = sa.text("SELECT datname FROM pg_database WHERE datname LIKE :like")
            for name in connection.execute(asked, {"like": f"{SCRATCH_DATABASE}%"}).scalars().all():
                if re.fullmatch(rf"{SCRATCH_DATABASE}\d+", name) and name < f"{SCRATCH_DATABASE}{before:{STAMP}}":
                    connection.execute(sa.text(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)'))
    except sa.exc.DBAPIError:
        return  # the next time, perhaps
    finally:
        engine.dispose()


def _places(settings: Settings) -> set[Path]:
    path = db.sqlite_path(settings.database)
    return {settings.data, settings.backup_folder, settings.data / "backups"} | ({path.parent} if path else set())


def _is_left(folder: Path) -> bool:
    try:
        there = next(path for path in (folder, lock_of(folder)) if path.exists())
        # In the system's folder for temporary files others have theirs.
        own = os.name != "posix" or there.lstat().st_uid == os.getuid()
        return own and not there.is_symlink() and is_left_behind(folder)
    except (OSError, StopIteration):
        return False  # it went just now
