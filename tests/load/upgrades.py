"""Brings a year's shop up from each older schema, and prints how long that takes and whether every row came through.

    python -m tests.load.upgrades [--kind sqlite postgresql] [--from 0001 0005]

The demo's year is taken down to the older schema first, which drops what that schema had no place for; what is left
there is compared before and after, column by column.
"""

import argparse
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import sqlalchemy as sa
from alembic import command

from seed_demo.make import make_demo
from tests.load.serving import PASSWORD, empty_postgresql, machine
from tests.migrations import old_shop
from tests.migrations.test_migrations import revisions
from webapp import db
from webapp.keeping.moving import move


@contextmanager
def copy_of(made: Path, kind: str, folder: Path) -> Iterator[str]:
    """The address of a copy of the shop that was made."""
    if kind == "postgresql":
        with empty_postgresql() as url:
            move(f"sqlite:///{made}", url)
            yield url
        return
    shutil.copyfile(made, folder / "copy.sqlite3")
    yield f"sqlite:///{folder / 'copy.sqlite3'}"
    for path in folder.glob("copy.sqlite3*"):
        path.unlink()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kind", nargs="+", default=["sqlite", "postgresql"])
    parser.add_argument("--from", nargs="+", default=revisions()[:-1], dest="older")
    asked = parser.parse_args()
    wrong = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_demo(f"sqlite:///{folder / 'made.sqlite3'}", PASSWORD)
        for kind in asked.kind:
            for older in asked.older:
                with copy_of(folder / "made.sqlite3", kind, folder) as url:
                    command.downgrade(db.alembic_config(url), older)
                    tables = old_shop.of_the_first_schema(url)
                    before = old_shop.rows(url, tables)
                    began = time.perf_counter()
                    db.migrate(url, folder / "backups")
                    taken = time.perf_counter() - began
                    after = old_shop.rows(url, tables)
                    sound = kind != "sqlite" or _is_sound(url)
                lost = [table for table in before if before[table] != after.get(table)]
                rows = sum(map(len, before.values()))
                said = f"DIFFERENT: {', '.join(lost)}" if lost else "every row as it was"
                print(f"{kind:11} {older} up: {taken:6.1f} s, {rows} rows in {len(tables)} tables, {said}", flush=True)
                wrong += bool(lost) + (not sound)
    print(machine())
    sys.exit(1 if wrong else 0)


def _is_sound(url: str) -> bool:
    engine = db.make_engine(url)
    with engine.connect() as connection:
        found = connection.execute(sa.text("PRAGMA integrity_check")).scalar_one()
        broken = connection.execute(sa.text("PRAGMA foreign_key_check")).first()
    engine.dispose()
    return found == "ok" and broken is None


if __name__ == "__main__":
    main()
