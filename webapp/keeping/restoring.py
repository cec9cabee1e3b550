"""Putting a backup in the place of what is there: only when told to, and never half."""

import shutil
import sqlite3
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa

from webapp import db
from webapp.keeping import postgres_tools
from webapp.keeping.archive import PHOTOS, SQLITE, NotSound
from webapp.keeping.backing_up import unpack_checked
from webapp.settings import Settings


class AlreadyThere(Exception):
    """There is a shop in the place already, and nobody said that it may be replaced."""


def restore(settings: Settings, archive: Path, over: bool) -> Path | None:
    """Restore database and photos from a backup, or the database alone from a copy of a SQLite file.

    With `over` what is there is replaced, and a copy of it is kept; gives that copy's path. The schema is brought up to
    date. Nothing is touched until the backup was unpacked and checked. Raises AlreadyThere, NotSound, OSError.
    """
    if _is_there(settings) and not over:
        raise AlreadyThere(f"there is a shop in {_place(settings)}; say --over to replace it (a backup of it is kept)")
    settings.data.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".restoring-", dir=settings.data) as folder:
        scratch = Path(folder)
        if _is_sqlite(archive):
            database, kind = archive, SQLITE
        else:
            kind = unpack_checked(settings, archive, scratch).database
            database = scratch / kind
        if (kind == SQLITE) != bool(db.sqlite_path(settings.database)):
            raise NotSound(
                "it was made from the other kind of database: restore it there, then move the shop with "
                "`flutebench move`"
            )
        kept = _keep_present(settings)
        if kind == SQLITE:
            _put_sqlite(settings, database, scratch)
        else:
            # One transaction in place of what is there; that it can be restored was tried when it was checked.
            postgres_tools.replace(settings.database, database)
            db.migrate(settings.database)
        _put_photos(settings, scratch / PHOTOS)
    return kept


def _put_sqlite(settings: Settings, database: Path, scratch: Path) -> None:
    target = db.sqlite_path(settings.database)
    assert target is not None
    # First beside the present one, so that a broken backup replaces nothing.
    checked = scratch / "checked.sqlite3"
    db.copy_sqlite(database, checked)
    db.migrate(f"sqlite:///{checked.resolve()}", scratch)
    db.copy_sqlite(checked, settled := scratch / "settled.sqlite3")
    db.settle(settled)
    for leftover in ("-wal", "-shm"):
        target.with_name(target.name + leftover).unlink(missing_ok=True)
    target.parent.mkdir(parents=True, exist_ok=True)
    settled.replace(target)
    db.settle(target.parent)


def _put_photos(settings: Settings, restored: Path) -> None:
    """Beside those that are there. Files, once written, never change and have random names: those that no row names any
    more do no harm, and the copy that is kept of the present database still finds its own."""
    present = settings.data / PHOTOS
    for path in restored.rglob("*"):
        if path.is_file():
            target = present / path.relative_to(restored)
            target.parent.mkdir(parents=True, exist_ok=True)
            path.replace(target)


def _keep_present(settings: Settings) -> Path | None:
    """A copy of what is about to be replaced. A database that can't even be copied is put aside as it is."""
    if not _is_there(settings):
        return None
    settings.backup_folder.mkdir(parents=True, exist_ok=True)
    stamp = f"{datetime.now(UTC):%Y%m%d-%H%M%S}"
    path = db.sqlite_path(settings.database)
    if path is None:
        kept = settings.backup_folder / f"before-restore-{stamp}.pgdump"
        postgres_tools.dump(settings.database, kept)
        return kept
    kept = settings.backup_folder / f"before-restore-{stamp}.sqlite3"
    try:
        db.copy_sqlite(path, kept)
    except sqlite3.DatabaseError:
        shutil.copyfile(path, kept)
    return kept


def _is_there(settings: Settings) -> bool:
    path = db.sqlite_path(settings.database)
    return path.exists() if path else db.schema_revision(settings.database) is not None


def _place(settings: Settings) -> str:
    path = db.sqlite_path(settings.database)
    return str(path) if path else sa.engine.make_url(settings.database).render_as_string()


def _is_sqlite(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(16) == b"SQLite format 3\0"
