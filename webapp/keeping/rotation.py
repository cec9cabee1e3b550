"""Which backups stay: the newest of each of the last days, weeks and months that have one."""

from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

from webapp.keeping.archive import moment_of

DAYS, WEEKS, MONTHS = 7, 5, 12


def to_keep(moments: Iterable[datetime]) -> set[datetime]:
    """Of each of the last 7 days, 5 weeks and 12 months that have a backup, the newest one."""
    newest_first = sorted(moments, reverse=True)
    kept: set[datetime] = set()
    for form, most in (("%Y-%m-%d", DAYS), ("%G-%V", WEEKS), ("%Y-%m", MONTHS)):
        seen: set[str] = set()
        for moment in newest_first:
            span = moment.strftime(form)
            if span not in seen and len(seen) < most:
                seen.add(span)
                kept.add(moment)
    return kept


def backups(folder: Path) -> list[tuple[datetime, Path]]:
    """The backups in the folder, newest first."""
    found = [(moment, path) for path in folder.glob("*.tar") if (moment := moment_of(path))]
    return sorted(found, reverse=True)


def rotate(folder: Path) -> list[Path]:
    """Remove the backups that need not stay; gives what was removed. Files of other names are left alone."""
    found = backups(folder)
    kept = to_keep(moment for moment, _ in found)
    removed = [path for moment, path in found if moment not in kept]
    for path in removed:
        path.unlink(missing_ok=True)
    return removed
