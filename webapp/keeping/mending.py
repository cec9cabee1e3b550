"""What the doctor can put right by itself: each says in words what it did. Raises OSError and what the work raises."""

import os
import stat
from collections.abc import Iterator
from pathlib import Path

from webapp import db
from webapp.keeping import certificates
from webapp.keeping.backups import backing_up, leftovers, rotation
from webapp.keeping.backups.archive import NotSound
from webapp.keeping.hold import in_use
from webapp.settings import Settings

OTHERS = stat.S_IRWXG | stat.S_IRWXO


def make_backup_folder(settings: Settings) -> str:
    _need_a_shop(settings)
    settings.backup_folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return f"{settings.backup_folder.resolve()} was made"


def open_to_others(settings: Settings) -> list[Path]:
    """Folders and files of the shop that other accounts of this computer can read or change."""
    if os.name != "posix":
        return []
    return [path for path in _ours(settings) if not path.is_symlink() and path.stat().st_mode & OTHERS]


def close_to_others(settings: Settings) -> str:
    found = open_to_others(settings)
    for path in found:
        path.chmod(stat.S_IMODE(path.stat().st_mode) & ~OTHERS)
    return f"{len(found)} files and folders are now for their owner alone"


def remove_leftovers(settings: Settings) -> str:
    removed = leftovers.sweep(settings)
    return f"removed {', '.join(map(str, removed))}"


def bring_up_to_date(settings: Settings) -> str:
    _need_a_shop(settings)
    with in_use.used(settings.database, "doctor", alone=True):
        db.migrate(settings.database, settings.data / "backups")
    return f"it is now {db.newest_revision()}"


def back_up(settings: Settings) -> str:
    _need_a_shop(settings)
    with in_use.used(settings.database, "doctor"):
        made, _ = backing_up.back_up(settings, by_hand=True)
    return f"made {made}, restored in a scratch place and found whole"


def _need_a_shop(settings: Settings) -> None:
    """Where there is none, somebody has named another folder than they meant: nothing is made there."""
    path = db.sqlite_path(settings.database)
    if path is not None and not path.exists():
        raise NotSound(f"there is no shop at {path}: is it this folder that is meant?")


def _ours(settings: Settings) -> Iterator[Path]:
    """The certificates in tls/ are for everybody to see; what they lie in is not."""
    shown = {certificates.Files.of(settings.data).authority, certificates.Files.of(settings.data).certificate}
    if settings.data.is_dir():
        yield settings.data
        yield from (path for path in sorted(settings.data.rglob("*")) if path not in shown)
    path = db.sqlite_path(settings.database)
    if path is not None and not path.resolve().is_relative_to(settings.data.resolve()):
        yield from path.parent.glob(f"{path.name}*")
    if not settings.backup_folder.resolve().is_relative_to(settings.data.resolve()):
        yield from (path for _, path in rotation.backups(settings.backup_folder))
        yield from settings.backup_folder.glob("before-*")
