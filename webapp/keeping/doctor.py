"""Looks over an installation and says, one line each, what is well and what needs doing; can do some of it."""

import importlib
import os
import shutil
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import sqlalchemy as sa

from webapp import db
from webapp.keeping import certificates, mending
from webapp.keeping.backups import leftovers, postgres_tools, restoring, rotation, schema_check
from webapp.security.sealing import FILE
from webapp.settings import Settings

LEAST_FREE = 500_000_000
OLDEST_BACKUP = timedelta(days=3)
_SQLITE_KEEPS = ("journal_mode", "synchronous")
_POSTGRESQL_KEEPS = ("fsync", "synchronous_commit", "full_page_writes")
_LIBRARIES = ("weasyprint", "numpy", "scipy", "av", "cryptography", "argon2", "ezdxf", "pebble")
_FONTS = ("font_source_sans_pro", "font_source_serif_pro")


@dataclass(frozen=True, slots=True)
class Found:
    """One thing that was looked at: is it well, and what there is to say."""

    what: str
    well: bool
    said: str
    mend: Callable[[], str] | None = None
    """What puts it right, and then says so; None where only people can."""


def examine(settings: Settings) -> Iterator[Found]:
    """Look at everything, one after the other; a check that itself fails counts as unwell."""
    checks: list[tuple[str, Callable[[Settings], tuple[bool, str]], Callable[[Settings], str] | None]] = [
        ("Python", _python, None),
        ("libraries", _libraries, None),
        ("fonts", _fonts, None),
        ("data folder", _folder, None),
        ("for the owner alone", _modes, mending.close_to_others),
        ("disk", _disk, None),
        ("left half made", _leftovers, mending.remove_leftovers),
        ("database", _database, None),
        ("schema", _schema, mending.bring_up_to_date),
        ("nothing foreign", _foreign, None),
        ("loss of power", _power, None),
        ("clock", _clock, None),
        ("second steps", _second_steps, None),
        ("backup folder", _backup_folder, mending.make_backup_folder),
        ("backup", _backup, mending.back_up),
        ("tablets", _tablets, None),
    ]
    for what, check, mend in checks:
        try:
            well, said = check(settings)
        except Exception as error:  # whatever it is, the list goes on
            well, said = False, f"could not be looked at: {str(error).splitlines()[0] if str(error) else type(error)}"
        yield Found(what, well, said, None if well or mend is None else partial(mend, settings))


def _python(_settings: Settings) -> tuple[bool, str]:
    return sys.version_info >= (3, 11), f"{sys.version.split()[0]}; 3.11 or newer is needed"


def _libraries(_settings: Settings) -> tuple[bool, str]:
    missing = []
    for name in _LIBRARIES:
        try:
            importlib.import_module(name)
        except (ImportError, OSError) as error:
            missing.append(f"{name} ({error})")
    return not missing, f"missing: {'; '.join(missing)}" if missing else f"all {len(_LIBRARIES)} load"


def _fonts(_settings: Settings) -> tuple[bool, str]:
    folders = [Path(importlib.import_module(name).__file__ or "").parent for name in _FONTS]
    files = [path for folder in folders for path in folder.rglob("*") if path.suffix.lower() in (".otf", ".ttf")]
    return bool(files), f"{len(files)} font files for papers" if files else "the fonts of the papers are missing"


def _folder(settings: Settings) -> tuple[bool, str]:
    folder = settings.data
    if not folder.is_dir():
        return False, f"{folder} does not exist; `flutebench serve` makes it"
    if not os.access(folder, os.W_OK):
        return False, f"{folder} can't be written to by this user"
    return True, str(folder.resolve())


def _modes(settings: Settings) -> tuple[bool, str]:
    """Names, addresses, prices and keys are nobody else's on this computer."""
    if open_to_others := mending.open_to_others(settings):
        more = f" and {len(open_to_others) - 1} more" if len(open_to_others) > 1 else ""
        return False, f"others on this computer can get at {open_to_others[0]}{more}"
    return True, "nobody else on this computer can read database, pictures, backups and keys"


def _leftovers(settings: Settings) -> tuple[bool, str]:
    found = leftovers.find(settings)
    return not found, f"by programs that were cut short: {', '.join(map(str, found))}" if found else "nothing"


def _foreign(settings: Settings) -> tuple[bool, str]:
    """What this program did not make in the database would be refused in a backup."""
    path = db.sqlite_path(settings.database)
    if path is None or not path.exists():
        return True, "not looked at" if path is None else "nothing there yet"
    odd = schema_check.strange(path)
    return not odd, f"{'; '.join(odd)}: a backup with that can't be restored" if odd else "as Flutebench makes it"


def _second_steps(settings: Settings) -> tuple[bool, str]:
    path = db.sqlite_path(settings.database)
    if path is not None and not path.exists():
        return True, "nothing there yet"
    names = restoring.locked_out(settings, settings.database)
    if not names:
        return True, "the key here opens those of everybody who has one"
    return False, f"the key {FILE} here does not open those of {', '.join(names)}; see the guide's chapter on backups"


def _disk(settings: Settings) -> tuple[bool, str]:
    said, well = [], True
    for folder in dict.fromkeys([settings.data, settings.backup_folder]):
        if folder.is_dir():
            free = shutil.disk_usage(folder).free
            well = well and free >= LEAST_FREE
            said.append(f"{free / 1e9:.1f} GB free for {folder}")
    return well, "; ".join(said) or "nothing there yet"


def _database(settings: Settings) -> tuple[bool, str]:
    path = db.sqlite_path(settings.database)
    if path is None:
        engine = db.make_engine(settings.database)
        with engine.connect() as connection:
            version = connection.execute(sa.text("SHOW server_version")).scalar_one()
        engine.dispose()
        postgres_tools.find("pg_dump")
        return True, f"PostgreSQL {version}, pg_dump at hand"
    if not path.exists():
        return False, f"there is none at {path}; `flutebench serve` makes it"
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as connection:
        found = connection.execute("PRAGMA quick_check").fetchone()[0]
        astray = connection.execute("PRAGMA foreign_key_check").fetchone()
    if found != "ok" or astray:
        return False, f"{path} is damaged ({found}); restore the newest backup"
    return True, f"{path}, {path.stat().st_size / 1e6:.1f} MB, sound"


def _schema(settings: Settings) -> tuple[bool, str]:
    path = db.sqlite_path(settings.database)
    if path is not None and not path.exists():
        return False, "none"
    present, newest = db.schema_revision(settings.database), db.newest_revision()
    return present == newest, f"{present or 'none'}; this program's is {newest}"


def _power(settings: Settings) -> tuple[bool, str]:
    """Whether what was acknowledged is on the disk itself, not only in memory on its way there (PostgreSQL 15, 30.1 and
    20.5; SQLite, PRAGMA synchronous)."""
    path = db.sqlite_path(settings.database)
    if path is not None and not path.exists():
        return True, "nothing there yet"
    engine = db.make_engine(settings.database)
    try:
        with engine.connect() as connection:
            if engine.dialect.name == "sqlite":
                mode, level = (connection.execute(sa.text(f"PRAGMA {p}")).scalar_one() for p in _SQLITE_KEEPS)
                well = (mode, level) == ("wal", 2)
                return well, f"every entry is on the disk before it is acknowledged ({mode}, synchronous {level})"
            found = {name: connection.execute(sa.text(f"SHOW {name}")).scalar_one() for name in _POSTGRESQL_KEEPS}
    finally:
        engine.dispose()
    if off := [name for name, value in found.items() if value == "off"]:
        return False, f"{' and '.join(off)} off in PostgreSQL: what was acknowledged can be lost, or all of it damaged"
    return True, "every entry is on the disk before it is acknowledged (fsync, synchronous_commit, full_page_writes on)"


def _clock(settings: Settings) -> tuple[bool, str]:
    """The newest entry of the diary must not lie ahead: then the clock was set back since."""
    moment, path = datetime.now(UTC), db.sqlite_path(settings.database)
    if path is not None and not path.exists():
        return False, "nothing there to compare it with"
    engine = db.make_engine(settings.database)
    with engine.connect() as connection:
        newest = connection.execute(sa.text("SELECT max(at) FROM event")).scalar_one_or_none()
    engine.dispose()
    if isinstance(newest, str):
        newest = datetime.fromisoformat(newest).replace(tzinfo=UTC)
    if newest and newest > moment + timedelta(minutes=2):
        return False, f"it says {moment:%Y-%m-%d %H:%M} UTC, but the shop's last entry is of {newest:%Y-%m-%d %H:%M}"
    return True, f"{moment:%Y-%m-%d %H:%M} UTC"


def _backup_folder(settings: Settings) -> tuple[bool, str]:
    folder = settings.backup_folder
    if not folder.is_dir():
        return False, f"{folder} does not exist; is the disk there?" if settings.backups else f"{folder} does not exist"
    return os.access(folder, os.W_OK), f"{folder.resolve()}{'' if os.access(folder, os.W_OK) else ' is not writable'}"


def _backup(settings: Settings) -> tuple[bool, str]:
    found = rotation.backups(settings.backup_folder)
    if not found:
        return False, f"none in {settings.backup_folder}; make one with `flutebench backup`"
    age = datetime.now(UTC) - found[0][0]
    said = f"{len(found)} kept, the newest {age.days} days and {age.seconds // 3600} hours old"
    if settings.backup_folder.resolve().is_relative_to(settings.data.resolve()):
        said += "; on the same disk as the shop: copy them elsewhere, or set BACKUPS to another disk"
    return age < OLDEST_BACKUP, said


def _tablets(settings: Settings) -> tuple[bool, str]:
    left = certificates.days_left(settings.data)
    if left is None:
        if settings.host in ("127.0.0.1", "localhost", "::1") or settings.proxies:
            return True, "no certificate of our own"
        return False, "reached without https, tablets can't use the microphone; see `flutebench certificate`"
    return left > certificates.RENEW_BEFORE.days, f"the certificate is good for {left} more days"
