"""Making a backup while the shop runs: consistent, complete with photos, and checked by restoring it."""

import shutil
import tarfile
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa
from sqlmodel import SQLModel

from webapp import db
from webapp.keeping import postgres_tools
from webapp.keeping.archive import LIST, PHOTOS, POSTGRESQL, SQLITE, Contents, NotSound, digest, file_name, unpack
from webapp.settings import Settings

_BEING_MADE = ".being-made-"
_SCRATCH, _STAMP = "flutebench_check_", "%Y%m%d%H%M%S%f"
LEFT_BEHIND = 24 * 3600.0  # s


def back_up(settings: Settings, to: Path | None = None, moment: datetime | None = None) -> Path:
    """Write a backup into the folder of the settings (or to the file named) and check it by restoring it elsewhere.

    It stands under its final name only once it was checked. Raises NotSound, OSError, and FileExistsError where the
    file is there already.
    """
    moment = moment or datetime.now(UTC)
    target = to or settings.backup_folder / file_name(moment)
    if target.exists():
        raise FileExistsError(f"{target} exists already")
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=_BEING_MADE, dir=target.parent) as folder:
        partial = Path(folder) / "backup.tar"
        _write(settings, Path(folder), partial, moment)
        check(settings, partial)
        db.settle(partial)
        partial.replace(target)
    db.settle(target.parent)
    return target


def remove_leftovers(settings: Settings) -> None:
    """Remove what backups left behind that were broken off a day ago or longer: the program killed, the power lost."""
    before = time.time() - LEFT_BEHIND
    for folder in settings.backup_folder.glob(f"{_BEING_MADE}*"):
        if folder.is_dir() and folder.stat().st_mtime < before:
            shutil.rmtree(folder, ignore_errors=True)
    if db.sqlite_path(settings.database) is None:
        _drop_scratch_databases(settings.database, datetime.fromtimestamp(before, UTC))


def _drop_scratch_databases(url: str, before: datetime) -> None:
    engine = sa.create_engine(url, isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
    with suppress(sa.exc.DBAPIError), engine.connect() as connection:
        asked = sa.text("SELECT datname FROM pg_database WHERE datname LIKE :like")
        for name in connection.execute(asked, {"like": f"{_SCRATCH}%"}).scalars().all():
            if name < f"{_SCRATCH}{before:{_STAMP}}":
                connection.execute(sa.text(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)'))
    engine.dispose()


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
        files |= {f"{PHOTOS}/{p.relative_to(photos).as_posix()}": p for p in sorted(photos.rglob("*")) if p.is_file()}
    with _restored(settings, folder / "counted", copy, database) as url:
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
    with tempfile.TemporaryDirectory(prefix="flutebench-check-") as folder:
        return unpack_checked(settings, archive, Path(folder))


def unpack_checked(settings: Settings, archive: Path, into: Path) -> Contents:
    """Unpack a backup into a folder and look at it as `check` does. Raises NotSound with what is wrong."""
    contents = unpack(archive, into)
    with _restored(settings, into / "again", into / contents.database, contents.database) as url:
        if (found := count_rows(url)) != contents.rows:
            odd = sorted(name for name in {*found, *contents.rows} if found.get(name) != contents.rows.get(name))
            raise NotSound(f"restored, it has other rows than were backed up in {', '.join(odd)}")
        for name in _photo_files(url):
            if f"{PHOTOS}/{name}" not in contents.files:
                raise NotSound(f"the photo {name} is named by the database but not in the backup")
    return contents


@contextmanager
def _restored(settings: Settings, folder: Path, database: Path, kind: str) -> Iterator[str]:
    """The address of a scratch database made from what was backed up; gone afterwards."""
    if kind == SQLITE:
        folder.mkdir(exist_ok=True)
        copy = folder / "restored.sqlite3"
        db.copy_sqlite(database, copy)
        yield f"sqlite:///{copy.resolve()}"
        return
    if db.sqlite_path(settings.database):
        raise NotSound("it holds a PostgreSQL database: name one in the setting DATABASE_URL to look at it")
    with scratch_database(settings.database) as url:
        postgres_tools.restore(url, database)
        yield url


@contextmanager
def scratch_database(url: str) -> Iterator[str]:
    """A new PostgreSQL database beside the one named, dropped afterwards. Raises NotSound where that is not allowed."""
    name = f"{_SCRATCH}{datetime.now(UTC):{_STAMP}}"
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


def _photo_files(url: str) -> list[str]:
    """The files that the table of photos names, as it stands in that database."""
    engine = db.make_engine(url)
    try:
        with engine.connect() as connection:
            if "photo" not in sa.inspect(connection).get_table_names():
                return []
            return sorted(connection.execute(sa.text("SELECT file_name FROM photo")).scalars())
    finally:
        engine.dispose()
