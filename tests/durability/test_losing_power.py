"""The power is lost at any moment: what was acknowledged is there, and what was not leaves the shop whole.

Each time with something left out that keeps it so (`without`), the same test must find the loss.
"""

import hashlib
import os
import sqlite3
from collections.abc import Callable
from contextlib import closing, nullcontext
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlmodel import col, select

from tests.durability.power import Lost, lost_at_every_moment
from tests.keeping.conftest import PICTURES, settings as settings  # noqa: F401
from tests.keeping.test_cut_short import Place, work_after_the_backup
from tests.shops import OpenShop
from webapp import db
from webapp.keeping.backups import restoring
from webapp.keeping.backups.backing_up import back_up
from webapp.models import Blank, FileKind, Photo
from webapp.security.sealing import Seal
from webapp.settings import Settings
from webapp.shop.blanks import photo_files, photos
from webapp.shop.blanks.pictures import Ready

pytestmark = [
    pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="reads /proc"),
    pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True),
]
Without = tuple[Any, str] | None


def left_out(patch: pytest.MonkeyPatch, without: Without) -> Any:
    """Leave out what keeps it whole; then the loss must be found."""
    if without is None:
        return nullcontext()
    patch.setattr(*without, lambda *_, **__: None)
    return pytest.raises(Lost)


@pytest.mark.parametrize("without", [None, (db, "settle"), (photo_files.os, "fsync")])
def test_a_picture_that_was_acknowledged_is_there(
    open_shop: OpenShop, settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, without: Without
) -> None:
    (settings.data / "photos").rename(tmp_path / "photos")  # the first picture makes the folder
    content = b"the bytes of a picture" * 1000
    ready = Ready(FileKind.PICTURE, content, b"the bytes of a small one" * 100)
    by = open_shop.maker

    def whole(place: Path, when: str) -> None:
        if when == "done":
            [path] = [one for one in (place / "photos").glob("*.jpg") if "small" not in one.name] or [place]
            assert path.is_file(), "no picture is there"
            assert path.read_bytes() == content
            assert path.with_name(photo_files.small_name(path.name)).read_bytes() == ready.small

    with lost_at_every_moment(settings.data, tmp_path, whole) as done, left_out(monkeypatch, without):
        with open_shop.database.write() as session:
            blank_id = session.exec(select(col(Blank.id))).one()
            photos.add_to_blank(session, by, settings.data, blank_id, ready, photos.AddPhoto())
        done()
    with open_shop.database.read() as session:
        assert session.exec(select(Photo).where(Photo.sha256 == hashlib.sha256(content).hexdigest())).one()


@pytest.mark.parametrize("without", [None, (db, "settle")])
def test_a_backup_that_was_made_is_there(
    settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, without: Without
) -> None:
    target = settings.backup_folder / "made.tar"
    settings.backup_folder.mkdir(parents=True)

    def whole(place: Path, when: str) -> None:
        there = place / target.relative_to(settings.data)
        if when == "done":
            assert there.is_file(), "no backup is there"
        # Under its final name it is whole, whenever the power was lost.
        assert not there.exists() or there.read_bytes() == target.read_bytes()

    with lost_at_every_moment(settings.data, tmp_path, whole) as done, left_out(monkeypatch, without):
        back_up(settings, target)
        done()


@pytest.mark.parametrize("without", [None, (db, "settle"), (os, "fsync")])
def test_the_key_that_sealed_something_is_there(
    settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, without: Without
) -> None:
    sealed: list[tuple[str, str]] = []

    def whole(place: Path, when: str) -> None:
        for text, one in sealed:
            assert Seal(place).open(one) == text, f"{text} can't be read any more"

    with lost_at_every_moment(settings.data, tmp_path, whole) as done, left_out(monkeypatch, without):
        seal = Seal(settings.data)
        sealed.append(("the first", seal.seal("the first")))
        done()
        seal.renew()
        sealed.append(("the second", seal.seal("the second")))
        done()


@pytest.mark.parametrize("without", [None, (db, "settle")])
def test_the_copy_from_before_a_change_of_the_schema_is_there(
    settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, without: Without
) -> None:
    path = db.sqlite_path(settings.database)
    assert path is not None
    (data := tmp_path / "upgraded").mkdir()
    db.copy_sqlite(path, data / "shop.sqlite3")

    def upgrade(_config: object, _to: str) -> None:
        with closing(sqlite3.connect(data / "shop.sqlite3")) as connection:
            connection.execute("UPDATE alembic_version SET version_num = '0001'")
            connection.commit()

    def whole(place: Path, when: str) -> None:
        with closing(sqlite3.connect(place / "shop.sqlite3")) as connection:
            changed = connection.execute("SELECT version_num FROM alembic_version").fetchone() == ("0001",)
        assert not changed or list((place / "backups").glob("before-*.sqlite3")), "changed, and no copy of before"

    monkeypatch.setattr(db.ScriptDirectory, "get_current_head", lambda _self: "0002")
    monkeypatch.setattr(db.command, "upgrade", upgrade)
    with lost_at_every_moment(data, tmp_path, whole) as done, left_out(monkeypatch, without):
        db.migrate(f"sqlite:///{data / 'shop.sqlite3'}")
        done()


@pytest.mark.parametrize(
    ("pictures", "without"),
    [(True, None), (False, None), (True, (db, "settle")), (False, (restoring, "_fold_in"))],
)
def test_a_restore_leaves_the_old_shop_or_the_new(
    settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pictures: bool, without: Without
) -> None:
    """With no picture to put in place, nothing else syncs the folder that the old log was removed from."""
    path = db.sqlite_path(settings.database)
    assert path is not None
    archive, _ = back_up(settings, tmp_path / "backup.tar")
    place = Settings(data=tmp_path / "again")
    with closing(sqlite3.connect(path)) as still_open:
        still_open.execute("SELECT count(*) FROM customer").fetchone()
        work_after_the_backup(settings, pictures)
        still_open.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        still_open.execute("UPDATE photo SET caption = 'of now'")
        still_open.commit()
        settings.data.rename(place.data)
        for ending in ("", "-wal"):  # the newest entry stands in the log alone
            (place.data / f"shop.sqlite3{ending}").write_bytes(Path(f"{path}{ending}").read_bytes())
    found: set[str] = set()

    def whole(left: Path, when: str) -> None:
        try:
            new = Place(Settings(data=left), archive).is_new()
            with closing(sqlite3.connect(left / "shop.sqlite3")) as connection:
                captions = set(connection.execute("SELECT caption FROM photo"))
        except sa.exc.DatabaseError as error:
            raise AssertionError(f"the database is damaged: {error.orig}") from error
        found.add(f"{when}: {'new' if new else 'old'}")
        assert captions == {("" if new else "of now",)}, "something of the old shop's log is in the new one"
        assert new or when != "done", "restored, but the old shop is there"

    with lost_at_every_moment(place.data, tmp_path, whole) as done, left_out(monkeypatch, without):
        restoring.restore(place, archive, over=True)
        done()
    if without is None:
        assert found == {"under way: old", "under way: new", "done: new"}


@pytest.mark.parametrize("looked_at", [True, False])
def test_a_damaged_database_is_not_copied_as_if_it_were_sound(
    settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, looked_at: bool
) -> None:
    """One entry of an index is gone: each page by itself reads well."""
    path = db.sqlite_path(settings.database)
    assert path is not None
    db.copy_sqlite(path, damaged := tmp_path / "damaged.sqlite3")
    with closing(sqlite3.connect(damaged)) as connection:
        connection.execute("CREATE TABLE something (name TEXT)")
        connection.executemany("INSERT INTO something VALUES (?)", [(f"name {n}",) for n in range(50)])
        connection.execute("CREATE INDEX ix_something ON something (name) WHERE rowid < 40")
        connection.commit()
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute("UPDATE sqlite_schema SET sql = replace(sql, '< 40', '< 45') WHERE name = 'ix_something'")
        connection.commit()
    if looked_at:
        with pytest.raises(sqlite3.DatabaseError, match="not sound"):
            db.copy_sqlite(damaged, tmp_path / "copy.sqlite3")
        assert not (tmp_path / "copy.sqlite3").exists()
        return
    # Without the look at all of it, nothing else would have told.
    monkeypatch.setattr(db.sqlite3, "connect", _credulous(sqlite3.connect))
    db.copy_sqlite(damaged, tmp_path / "copy.sqlite3")


def _credulous(connect: Callable[..., sqlite3.Connection]) -> Callable[..., sqlite3.Connection]:
    class Connection(sqlite3.Connection):
        def execute(self, statement: str, *more: Any) -> sqlite3.Cursor:
            return super().execute("SELECT 'ok'" if "integrity_check" in statement else statement, *more)

    return lambda *given, **more: connect(*given, factory=Connection, **more)
