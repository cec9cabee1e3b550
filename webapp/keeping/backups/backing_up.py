"""Making a backup while the shop runs: consistent, complete with photos, and checked by restoring it."""

import shutil
import tarfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa
from sqlmodel import SQLModel

from webapp import db
from webapp.keeping.backups import postgres_tools, rebuilding, schema_check
from webapp.keeping.backups.archive import (
    LIST,
    PHOTOS,
    POSTGRESQL,
    SQLITE,
    Contents,
    NotSound,
    digest,
    file_name,
    unpack,
)
from webapp.keeping.backups.leftovers import BEING_MADE, CHECKING, SCRATCH_DATABASE, STAMP
from webapp.keeping.hold.file_lock import scratch_folder
from webapp.settings import Settings
from webapp.shop.blanks import photo_files


@dataclass(frozen=True, slots=True)
class Checked:
    """A backup that was unpacked and found whole: its list of contents, and the database made from it."""

    contents: Contents
    url: str
    strange: list[str]
    """What its database has that this program never makes, in words; only where that was asked for."""


def back_up(
    settings: Settings, to: Path | None = None, moment: datetime | None = None, by_hand: bool = False
) -> tuple[Path, list[str]]:
    """Write a backup into the folder of the settings (or to the file named) and check it by restoring it elsewhere.

    It stands under its final name only once it was checked. Gives its path, and what in the database this program never
    made: such a backup is better than none, but is refused when it is restored. Raises NotSound, OSError, and
    FileExistsError where the file is there already.
    """
    moment = moment or datetime.now(UTC)
    target = to or settings.backup_folder / file_name(moment, by_hand)
    if target.exists():
        raise FileExistsError(f"{target} exists already")
    target.parent.mkdir(parents=True, exist_ok=True)
    with scratch_folder(BEING_MADE, target.parent) as folder:
        partial = folder / "backup.tar"
        _write(settings, folder, partial, moment)
        with checked(settings, partial, folder / "checked", ours=True) as found:
            strange = found.strange
        partial.chmod(0o600)
        db.settle(partial)
        partial.replace(target)
    db.settle(target.parent)
    return target, strange


def _write(settings: Settings, folder: Path, partial: Path, moment: datetime) -> None:
    """The database first: photos are on disk before their rows, so every photo that it names is still to be had."""
    path = db.sqlite_path(settings.database)
    database = SQLITE if path else POSTGRESQL
    copy = folder / database
    if path:
        if not path.exists():
            raise NotSound(f"there is no database at {path}")
        db.copy_sqlite(path, copy)
    else:
        postgres_tools.dump(settings.database, copy)
    photos = settings.data / PHOTOS
    files = {database: copy}
    if photos.is_dir():
        found = (path for path in photos.iterdir() if photo_files.is_one(path))
        files |= {f"{PHOTOS}/{path.name}": path for path in sorted(found)}
    with _database(settings, folder / "counted", copy, database) as url:
        rows = count_rows(url)
        schema = db.schema_revision(url)
    contents = Contents(
        moment.astimezone(UTC).isoformat(), schema, database, rows, {name: digest(p) for name, p in files.items()}
    )
    listed = folder / LIST
    listed.write_text(contents.to_json())
    with tarfile.open(partial, "w") as tar:
        tar.add(listed, LIST)
        for name, file in files.items():
            tar.add(file, name)


def check(settings: Settings, archive: Path) -> Contents:
    """Restore a backup into a scratch place and look at it: every file, every table, every photo that a row names.

    Raises NotSound with what is wrong.
    """
    with scratch_folder(CHECKING) as folder, checked(settings, archive, folder / "checked") as found:
        return found.contents


@contextmanager
def checked(settings: Settings, archive: Path, into: Path, ours: bool = False) -> Iterator[Checked]:
    """Unpack a backup into a new folder, make a database from it, and look at both. Raises NotSound with what is wrong.

    What this program never makes in a database is refused, or only told of where the backup was made by us just now
    (`ours`): somebody may have added an index to a shop of theirs.
    """
    contents = unpack(archive, into)
    with trusted(settings, into / "again", into / contents.database, contents.database, ours) as (url, strange):
        if (found := count_rows(url)) != contents.rows:
            odd = sorted(name for name in {*found, *contents.rows} if found.get(name) != contents.rows.get(name))
            raise NotSound(f"restored, it has other rows than were backed up in {', '.join(odd)[:200]}")
        for name in photos_of(url):
            if not photo_files.is_name(name):
                raise NotSound(f"its database names a photo {name[:80]!r}, which is no name that Flutebench gives")
            if f"{PHOTOS}/{name}" not in contents.files:
                raise NotSound(f"the photo {name} is named by the database but not in the backup")
        yield Checked(contents, url, strange)


@contextmanager
def trusted(
    settings: Settings, folder: Path, database: Path, kind: str, ours: bool = False
) -> Iterator[tuple[str, list[str]]]:
    """The address of a scratch database made from what was backed up, in which nothing of anybody else's can run.

    Gone afterwards. Raises NotSound where it has what this program never makes, which is given instead where it is
    `ours`.
    """
    if kind == SQLITE:
        strange = schema_check.strange(database)
        if not ours:
            schema_check.refuse(strange)
        with _database(settings, folder, database, kind) as url:
            yield url, strange
        return
    _need_postgresql(settings)
    with scratch_database(settings.database) as url:
        if ours:
            postgres_tools.restore(url, database)
            yield url, rebuilding.strange(database, SQLModel.metadata.tables)
        else:
            rebuilding.rebuild(database, url)
            yield url, []


@contextmanager
def _database(settings: Settings, folder: Path, database: Path, kind: str) -> Iterator[str]:
    """The address of a scratch database made from what was backed up, just as it is; gone afterwards."""
    if kind == SQLITE:
        folder.mkdir(mode=0o700, exist_ok=True)
        copy = folder / "restored.sqlite3"
        db.copy_sqlite(database, copy)
        yield f"sqlite:///{copy.resolve()}"
        shutil.rmtree(folder, ignore_errors=True)
        return
    _need_postgresql(settings)
    with scratch_database(settings.database) as url:
        postgres_tools.restore(url, database)
        yield url


def _need_postgresql(settings: Settings) -> None:
    if db.sqlite_path(settings.database):
        raise NotSound("it holds a PostgreSQL database: name one in the setting DATABASE_URL to look at it")


@contextmanager
def scratch_database(url: str) -> Iterator[str]:
    """A new PostgreSQL database beside the one named, dropped afterwards. Raises NotSound where that is not allowed."""
    name = f"{SCRATCH_DATABASE}{datetime.now(UTC):{STAMP}}"
    engine = sa.create_engine(url, isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
    try:
        with engine.connect() as connection:
            connection.execute(sa.text(f'CREATE DATABASE "{name}" TEMPLATE template0'))
    except sa.exc.DBAPIError as error:
        raise NotSound(
            f"a backup is checked in a scratch database, which could not be made ({error.orig}); "
            "the shop's PostgreSQL role needs CREATEDB"
        ) from error
    try:
        yield sa.engine.make_url(url).set(database=name).render_as_string(hide_password=False)
    finally:
        with engine.connect() as connection:
            connection.execute(sa.text(f'DROP DATABASE "{name}" WITH (FORCE)'))
        engine.dispose()


def count_rows(url: str) -> dict[str, int]:
    """How many rows each table of the shop has. Tables that this program does not know are left out."""
    engine = db.make_engine(url)
    try:
        with engine.connect() as connection:
            present = set(sa.inspect(connection).get_table_names())
            return {
                table.name: connection.execute(sa.select(sa.func.count()).select_from(table)).scalar_one()
                for table in SQLModel.metadata.sorted_tables
                if table.name in present
            }
    finally:
        engine.dispose()


def photos_of(url: str) -> list[str]:
    """The files that the table of photos names, as it stands in that database."""
    engine = db.make_engine(url)
    try:
        with engine.connect() as connection:
            if "photo" not in sa.inspect(connection).get_table_names():
                return []
            return sorted(map(str, connection.execute(sa.text("SELECT file_name FROM photo")).scalars()))
    finally:
        engine.dispose()
