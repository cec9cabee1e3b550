"""A restore that is killed at any moment leaves the old shop whole or the new one, and what is half made is swept."""

import hashlib
import os
import shutil
import signal
import sqlite3
import sys
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.keeping.conftest import PICTURES
from tests.shops import OpenShop
from webapp import db
from webapp.keeping.backups import leftovers, schema_check
from webapp.keeping.backups.archive import PHOTOS
from webapp.keeping.backups.backing_up import back_up
from webapp.keeping.backups.restoring import restore
from webapp.settings import Settings
from webapp.shop.blanks import photo_files

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
# What changes something on the disk, or in a database, as Python's audit events name it.
STEPS = {"os.rename", "os.remove", "os.mkdir", "os.rmdir", "sqlite3.connect", "subprocess.Popen", "shutil.copyfile"}
LATER = "Came later"


@dataclass
class Place:
    """A shop as it is, the backup of what it was, and where it may be restored again and again."""

    settings: Settings
    archive: Path

    def restored_until(self, step: int) -> list[str]:
        """Restore in a process that is killed just before this step; gives the steps of one that was not killed."""
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            with suppress(BaseException):
                os.close(reading)
                taken = self._killed_at(step)
                restore(self.settings, self.archive, over=True)
                with os.fdopen(writing, "w") as telling:
                    telling.write("\n".join(taken))
            os._exit(0)
        os.close(writing)
        with os.fdopen(reading) as told:
            steps = told.read().splitlines()
        _, status = os.waitpid(child, 0)
        assert os.WEXITSTATUS(status) == 0 if steps else os.WIFSIGNALED(status)
        return steps

    def _killed_at(self, step: int) -> list[str]:
        taken: list[str] = []
        data = str(self.settings.data)

        def look(event: str, arguments: tuple[object, ...]) -> None:
            changes = event in STEPS or (event == "open" and "w" in str(arguments[1]))
            if changes and (data in str(arguments) or event == "subprocess.Popen"):
                if len(taken) == step:
                    os.kill(os.getpid(), signal.SIGKILL)
                taken.append(f"{event} {arguments}")

        sys.addaudithook(look)
        return taken

    def is_new(self) -> bool:
        """After the next start: every picture that a row names is there as it was, and nothing is left half made."""
        leftovers.sweep(self.settings)
        assert not list(self.settings.data.glob(".restoring-*"))
        engine = db.make_engine(self.settings.database)
        with engine.connect() as connection:
            names = connection.execute(sa.text("SELECT name FROM customer")).scalars().all()
            photos = connection.execute(sa.text("SELECT file_name, sha256 FROM photo")).all()
            if engine.dialect.name == "sqlite":
                assert connection.execute(sa.text("PRAGMA integrity_check")).scalar_one() == "ok"
        engine.dispose()
        assert len(photos) == len(PICTURES)
        for name, sha256 in photos:
            path = photo_files.path_of(self.settings.data, name)
            assert path is not None
            assert hashlib.sha256(path.read_bytes()).hexdigest() == sha256
        return LATER not in names


def work_after_the_backup(settings: Settings, pictures: bool = True) -> None:
    """A customer, and another picture under a name that the backup has too: a name that only harm or damage gives."""
    engine = db.make_engine(settings.database)
    with engine.connect().execution_options(writes=True) as connection:
        if pictures:
            other, name = b"the picture of now", next(iter(PICTURES))
            (settings.data / PHOTOS / name).write_bytes(other)
            connection.execute(
                sa.text("UPDATE photo SET sha256 = :s WHERE file_name = :n"), _digest(other) | {"n": name}
            )
        if not connection.execute(sa.text("SELECT 1 FROM customer WHERE name = :n"), {"n": LATER}).first():
            copied = "INSERT INTO customer (name, sought, contact, address, note, created_at, version) "
            copied += "SELECT :n, sought, contact, address, note, created_at, version FROM customer ORDER BY id LIMIT 1"
            connection.execute(sa.text(copied), {"n": LATER})
        connection.commit()
    engine.dispose()


def _digest(content: bytes) -> dict[str, str]:
    return {"s": hashlib.sha256(content).hexdigest()}


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_killed_at_each_step_on_sqlite(open_shop: OpenShop, settings: Settings, tmp_path: Path) -> None:
    path = db.sqlite_path(settings.database)
    assert path is not None
    archive, _ = back_up(settings, tmp_path / "backup.tar")
    # As after a loss of power: the newest entries stand in the write-ahead log alone.
    with closing(sqlite3.connect(path)) as still_open:
        still_open.execute("SELECT count(*) FROM customer").fetchone()
        work_after_the_backup(settings)
        template = tmp_path / "template"
        shutil.copytree(settings.data, template)
        for ending in ("", "-wal"):
            shutil.copyfile(f"{path}{ending}", template / f"shop.sqlite3{ending}")
    assert (template / "shop.sqlite3-wal").stat().st_size > 0
    schema_check.expected(str(db.newest_revision()))  # for all the processes at once
    place = Place(Settings(data=tmp_path / "again"), archive)

    def restored_until(step: int) -> list[str]:
        shutil.rmtree(place.settings.data, ignore_errors=True)
        shutil.copytree(template, place.settings.data)
        return place.restored_until(step)

    steps = restored_until(10_000)
    assert place.is_new()
    found = []
    for step in chosen(steps, place.settings):
        assert restored_until(step) == []
        found.append(place.is_new())
    print(
        f"SQLite: killed at {len(found)} of {len(steps)} steps: {found.count(False)} times old, {found.count(True)} new"
    )
    # Once the new one stands, it stays: there is one step that puts it there.
    assert found == sorted(found)
    assert not found[0]
    assert found[-1]


def chosen(steps: list[str], settings: Settings) -> list[int]:
    """Each step outside of the scratch folder and the one after it, and now and then one within."""
    outside = [n for n, step in enumerate(steps) if _is_outside(step, settings)]
    return sorted({n for n in (*outside, *(n + 1 for n in outside), *range(0, len(steps), 8)) if n < len(steps)})


def _is_outside(step: str, settings: Settings) -> bool:
    target = step.rsplit("', '", 1)[-1] if step.startswith("os.rename") else step
    return leftovers.RESTORING not in target


@pytest.mark.parametrize("migrated_database_url", ["postgresql"], indirect=True)
def test_killed_at_each_step_on_postgresql(open_shop: OpenShop, settings: Settings, tmp_path: Path) -> None:
    place = Place(settings, back_up(settings, tmp_path / "backup.tar")[0])
    open_shop.database.close()
    work_after_the_backup(settings)
    steps = place.restored_until(10_000)
    assert place.is_new()
    # Before the pictures go to their place, nothing of the shop has been touched: a few of those steps will do.
    last = len(steps) - 1
    found = []
    for step in (last // 2, *range(last - 4, last + 1)):
        work_after_the_backup(settings)
        assert place.restored_until(step) == []
        found.append(place.is_new())
    told = f"old {found.count(False)} times, new {found.count(True)}"
    print(f"PostgreSQL: killed at {len(found)} of {len(steps)} steps: {told}")
    assert found == sorted(found)
    assert not found[0]
    assert found[-1]
