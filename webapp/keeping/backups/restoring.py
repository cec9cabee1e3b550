"""Putting a backup in the place of what is there: only when told to, with nobody at work there, and never half.

All is made ready in a scratch folder first. Then pictures go to their place, which harms nothing: none takes the name
of another. The database follows in one step. A crash before that step leaves the old shop, a crash after it the new.
"""

import secrets
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa

from webapp import db
from webapp.keeping.backups import leftovers, postgres_tools
from webapp.keeping.backups.archive import PHOTOS, POSTGRESQL, SQLITE, NotSound, digest
from webapp.keeping.backups.backing_up import checked, photos_of, trusted
from webapp.keeping.hold import in_use
from webapp.keeping.hold.file_lock import scratch_folder
from webapp.security.sealing import Seal
from webapp.settings import Settings
from webapp.shop.blanks import photo_files

OTHERS_END = 5.0
"""Seconds for which whoever has a SQLite file open without our lock may go on."""
_SIGNS = {b"SQLite format 3\0": SQLITE, b"PGDMP": POSTGRESQL}


class AlreadyThere(Exception):
    """There is a shop in the place already, and nobody said that it may be replaced."""


@dataclass(frozen=True, slots=True)
class Restored:
    """Where the shop lies now, what is kept of the one before, and whose second step can't be opened in this place."""

    place: str
    kept: Path | None
    locked_out: list[str]


def restore(settings: Settings, archive: Path, over: bool, stop: bool = False) -> Restored:
    """Restore database and photos from a backup, or the database alone from a copy of one.

    With `over` what is there is replaced, and a copy of it is kept. With `stop`, servers on this computer are asked to
    end first. The schema is brought up to date. Nothing is touched until the backup was unpacked and checked. Raises
    AlreadyThere, InUse, NotSound, OSError.
    """
    place = in_use.place(settings.database)
    if _is_there(settings) and not over:
        raise AlreadyThere(
            f"there is a shop in {place}. To put this backup into another place, set FLUTEBENCH_DATA to a new folder; "
            "to replace that shop, say --over (a backup of it is kept)"
        )
    settings.data.mkdir(mode=0o700, parents=True, exist_ok=True)
    if path := db.sqlite_path(settings.database):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with in_use.used(settings.database, "restore", alone=True, stop=stop):
        leftovers.sweep(settings)
        with (
            scratch_folder(leftovers.RESTORING, settings.data) as scratch,
            _made_ready(settings, archive, scratch) as url,
        ):
            db.migrate(url, scratch)
            photos = scratch / "unpacked" / PHOTOS
            _rename_where_taken(settings, url, photos)
            final = _final(url, scratch)
            kept = _keep_present(settings)
            _put_photos(settings, photos, photos_of(url))
            without_key = locked_out(settings, url)
            _switch(settings, final)
    return Restored(place, kept, without_key)


@contextmanager
def _made_ready(settings: Settings, archive: Path, scratch: Path) -> Iterator[str]:
    """The address of a scratch database made from the backup; its photos lie in `unpacked`. Raises NotSound."""
    if (kind := _kind(archive)) is not None:
        _must_be_of_this_kind(settings, kind)
        with trusted(settings, scratch / "again", archive, kind) as (url, _):
            yield url
        return
    with checked(settings, archive, scratch / "unpacked") as found:
        _must_be_of_this_kind(settings, found.contents.database)
        yield found.url


def _must_be_of_this_kind(settings: Settings, kind: str) -> None:
    if (kind == SQLITE) != bool(db.sqlite_path(settings.database)):
        raise NotSound(
            "it was made from the other kind of database: restore it there, then move the shop with `flutebench move`"
        )


def _rename_where_taken(settings: Settings, url: str, photos: Path) -> None:
    """A picture of another content under a name that is in use here gets a new name: that of now stays as it is."""
    present, engine = settings.data / PHOTOS, db.make_engine(url)
    try:
        with engine.connect().execution_options(writes=True) as connection:
            for name in photos_of(url):
                if (present / name).is_file() and not _is_same(photos / name, present / name):
                    fresh = secrets.token_hex(16) + Path(name).suffix
                    (photos / name).replace(photos / fresh)
                    if (small := photos / photo_files.small_name(name)).is_file():
                        small.replace(photos / photo_files.small_name(fresh))
                    renamed = sa.text("UPDATE photo SET file_name = :fresh WHERE file_name = :name")
                    connection.execute(renamed, {"fresh": fresh, "name": name})
            connection.commit()
    finally:
        engine.dispose()


def _final(url: str, scratch: Path) -> Path:
    """What takes the place of the present database: a SQLite file on the disk, or a dump of PostgreSQL."""
    path = db.sqlite_path(url)
    if path is None:
        postgres_tools.dump(url, final := scratch / "final.pgdump")
        return final
    db.copy_sqlite(path, final := scratch / "final.sqlite3")
    db.settle(final)
    return final


def _put_photos(settings: Settings, unpacked: Path, named: list[str]) -> None:
    """Those that the database names, beside those that are there. The copy that is kept of the present database still
    finds its own; what no row names is removed some weeks later."""
    present = settings.data / PHOTOS
    put = False
    for name in [*named, *map(photo_files.small_name, named)]:
        if not _is_same(unpacked / name, present / name):
            present.mkdir(mode=0o700, exist_ok=True)
            db.settle(unpacked / name)
            (unpacked / name).replace(present / name)
            put = True
    if put:
        db.settle(present)
        db.settle(settings.data)


def _is_same(new: Path, present: Path) -> bool:
    """Whether nothing has to be put there."""
    return not new.is_file() or (present.is_file() and digest(new) == digest(present))


def _switch(settings: Settings, final: Path) -> None:
    """The one step after which the shop is another one."""
    target = db.sqlite_path(settings.database)
    if target is None:
        # One transaction in place of what is there.
        postgres_tools.replace(settings.database, final)
        return
    if target.exists():
        _fold_in(target)
    final.replace(target)
    db.settle(target.parent)


def _fold_in(target: Path) -> None:
    """Leave the present database without a write-ahead log, which would be taken for that of the new one.

    SQLite does that only where nobody else has the file open, be it without our lock. Raises NotSound.
    """
    try:
        with closing(sqlite3.connect(target, timeout=OTHERS_END)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.OperationalError as error:
        raise NotSound(f"another program has {target} open: end it first ({error})") from error
    except sqlite3.DatabaseError:
        pass  # damaged: what there is of it was kept
    for leftover in ("-wal", "-shm"):
        target.with_name(target.name + leftover).unlink(missing_ok=True)
    # Or a loss of power could bring the log back beside the new database.
    db.settle(target.parent)


def _keep_present(settings: Settings) -> Path | None:
    """A copy of what is about to be replaced. A database that can't even be copied is put aside as it is."""
    if not _is_there(settings):
        return None
    settings.backup_folder.mkdir(parents=True, exist_ok=True)
    stamp = f"{datetime.now(UTC):%Y%m%d-%H%M%S}"
    path = db.sqlite_path(settings.database)
    if path is None:
        kept = settings.backup_folder / f"before-restore-{stamp}.pgdump"
        postgres_tools.dump(settings.database, beside := kept.with_name(kept.name + leftovers.PARTIAL))
        beside.replace(kept)
    else:
        kept = settings.backup_folder / f"before-restore-{stamp}.sqlite3"
        try:
            db.copy_sqlite(path, kept)
        except sqlite3.DatabaseError:
            for ending in ("", "-wal"):
                if (present := path.with_name(path.name + ending)).exists():
                    shutil.copyfile(present, kept.with_name(kept.name + ending))
    db.settle(kept)
    db.settle(kept.parent)
    return kept


def locked_out(settings: Settings, url: str) -> list[str]:
    """Who has a second step that the key of this place does not open."""
    seal, engine = Seal(settings.data), db.make_engine(url)
    try:
        with engine.connect() as connection:
            asked = sa.text("SELECT sign_in_name, code_secret FROM person WHERE code_secret IS NOT NULL AND active")
            return sorted(name for name, sealed in connection.execute(asked) if seal.open(sealed) is None)
    finally:
        engine.dispose()


def _is_there(settings: Settings) -> bool:
    """A file without tables is no shop; one that can't be read may have been."""
    path = db.sqlite_path(settings.database)
    if path is not None and not path.exists():
        return False
    try:
        return db.schema_revision(settings.database) is not None
    except sa.exc.DatabaseError:
        if path is None:
            raise
        return True


def _kind(path: Path) -> str | None:
    """What a copy of a database alone is of; None for anything else."""
    with path.open("rb") as file:
        begins = file.read(16)
    return next((kind for sign, kind in _SIGNS.items() if begins.startswith(sign)), None)
