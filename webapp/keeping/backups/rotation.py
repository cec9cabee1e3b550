"""Which backups stay: the newest of each of the last days, weeks and months that have one.

What was made within the last day always stays, and what somebody asked for by hand stays for a month: neither takes
the place of another.
"""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from webapp.keeping.backups.archive import is_by_hand, moment_of

DAYS, WEEKS, MONTHS = 7, 5, 12
ALWAYS, BY_HAND = timedelta(days=1), timedelta(days=31)


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


def rotate(folder: Path, moment: datetime | None = None) -> list[Path]:
    """Remove the backups that need not stay; gives what was removed. Files of other names are left alone."""
    now = moment or datetime.now(UTC)
    found = [(made, path) for made, path in backups(folder) if not (is_by_hand(path) and made > now - BY_HAND)]
    kept = to_keep(made for made, _ in found)
    removed = [path for made, path in found if made not in kept and made < now - ALWAYS]
    for path in removed:
        path.unlink(missing_ok=True)
    return removed
