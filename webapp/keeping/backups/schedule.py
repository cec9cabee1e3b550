"""What is done by itself while the shop is open. With several processes, one of them does it each time."""

import logging
import sqlite3
from datetime import timedelta

from sqlalchemy.exc import SQLAlchemyError

from webapp.db import Database
from webapp.jobs.schedule import claimed
from webapp.keeping.backups import leftovers, rotation
from webapp.keeping.backups.archive import NotSound
from webapp.keeping.backups.backing_up import back_up
from webapp.settings import Settings
from webapp.shop.work_counts import BACKUP

log = logging.getLogger("flutebench.backups")


def make_if_due(settings: Settings, database: Database, every: timedelta, by_hand: bool = False) -> bool:
    """Make a backup where one is due and no other process is at it; True where one was made.

    With `by_hand`, one that somebody asked for, which takes the place of no other.
    """
    with claimed(database, BACKUP, every) as claim:
        if claim is None:
            return False
        try:
            leftovers.sweep(settings)
            leftovers.drop_scratch_databases(settings.database)
            made, strange = back_up(settings, by_hand=by_hand)
            removed = rotation.rotate(settings.backup_folder)
            log.info("backup made and checked: %s; %d old ones removed", made.name, len(removed))
            for odd in strange:
                log.warning("the backup %s would be refused when it is restored: %s", made.name, odd)
        except (NotSound, OSError, SQLAlchemyError, sqlite3.Error) as error:
            claim.fault = str(error) or type(error).__name__
            log.error("backup failed: %s", claim.fault)
    return not claim.fault


def look_after_if_due(database: Database) -> None:
    """Once a day, have the database count what lies in its tables."""
    with claimed(database, "statistics", timedelta(days=1)) as claim:
        if claim is not None:
            database.look_after()
