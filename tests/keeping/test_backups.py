"""Backups and restoring, on SQLite and on PostgreSQL: whole, checked, never over what is there unless told to."""

import json
import os
import shutil
import tarfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests.keeping.conftest import PICTURES
from tests.shops import OpenShop
from webapp import db
from webapp.jobs import schedule
from webapp.keeping.backups import rotation
from webapp.keeping.backups.archive import LIST, PHOTOS, SQLITE, NotSound, file_name, moment_of, read_contents
from webapp.keeping.backups.backing_up import back_up, check, count_rows
from webapp.keeping.backups.restoring import AlreadyThere, restore
from webapp.keeping.backups.schedule import make_if_due
from webapp.models import Chore, Customer, at, now
from webapp.settings import Settings
from webapp.shop.blanks import photo_files
from webapp.shop.work_counts import BACKUP


def test_a_backup_brings_everything_back(open_shop: OpenShop, settings: Settings) -> None:
    archive, _ = back_up(settings)
    assert [path.name for path in settings.backup_folder.iterdir()] == [archive.name]
    before = count_rows(settings.database)
    assert before["blank"] == 1
    assert check(settings, archive).rows == before
    with open_shop.database.write() as session:
        session.add(Customer(name="Came later"))
        session.commit()
    shutil.rmtree(settings.data / PHOTOS)
    with pytest.raises(AlreadyThere, match="--over"):
        restore(settings, archive, over=False)
    assert count_rows(settings.database)["customer"] == before["customer"] + 1
    open_shop.database.close()
    kept = restore(settings, archive, over=True).kept
    assert kept is not None
    assert kept.stat().st_size > 10_000
    assert count_rows(settings.database) == before
    assert db.schema_revision(settings.database) == db.newest_revision()
    for name, content in PICTURES.items():
        assert (settings.data / PHOTOS / name).read_bytes() == content
        assert (settings.data / PHOTOS / photo_files.small_name(name)).read_bytes() == content
    # What was restored can be worked on: new rows get new numbers.
    with open_shop.database.write() as session:
        session.add(Customer(name="Came later still"))
        session.commit()


def spoilt(archive: Path, how: str, into: Path) -> Path:
    """A copy of the backup with something wrong in it."""
    if how == "cut short":
        into.write_bytes(archive.read_bytes()[:-30_000])
        return into
    if how == "no archive":
        into.write_bytes(b"something else" * 500)
        return into
    with tarfile.open(archive) as old, tarfile.open(into, "w") as new:
        for member in old:
            file = old.extractfile(member)
            assert file is not None
            content = file.read()
            if member.name == LIST and how in ("other rows", "missing file", "leads outside"):
                listed = json.loads(content)
                listed["rows"]["blank"] += how == "other rows"
                if how == "missing file":
                    listed["files"][f"{PHOTOS}/{3:032x}.jpg"] = "0" * 64
                if how == "leads outside":
                    listed["files"]["../../outside"] = "0" * 64
                content = json.dumps(listed).encode()
            if how == "changed photo" and member.name.endswith(f"{1:032x}.jpg"):
                content = content[::-1]
            if how == "odd list" and member.name == LIST:
                content = b'{"made_at": 3}'
            if how == "name leads outside" and member.name.endswith(f"{2:032x}.jpg"):
                member.name = "../../two.jpg"
            (into.parent / "piece").write_bytes(content)
            member.size = len(content)
            with (into.parent / "piece").open("rb") as piece:
                new.addfile(member, piece)
    return into


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_a_spoilt_backup_is_told_and_replaces_nothing(settings: Settings, tmp_path: Path) -> None:
    archive, _ = back_up(settings)
    before = count_rows(settings.database)
    for how in (
        "cut short",
        "no archive",
        "other rows",
        "missing file",
        "leads outside",
        "name leads outside",
        "changed photo",
        "odd list",
    ):
        bad = spoilt(archive, how, tmp_path / "bad.tar")
        with pytest.raises(NotSound):
            check(settings, bad)
        with pytest.raises(NotSound):
            restore(settings, bad, over=True)
        assert count_rows(settings.database) == before, how
        assert not list(tmp_path.rglob("outside")) + list(tmp_path.glob("two.jpg"))
    assert read_contents(archive).database == SQLITE


def test_a_backup_stands_under_its_name_only_once_it_was_checked(
    settings: Settings, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise NotSound("for this test")

    monkeypatch.setattr("webapp.keeping.backups.backing_up.checked", refuse)
    with pytest.raises(NotSound):
        back_up(settings)
    assert list(settings.backup_folder.iterdir()) == []
    (tmp_path / "there.tar").write_text("precious")
    with pytest.raises(FileExistsError):
        back_up(settings, tmp_path / "there.tar")


def test_one_process_makes_the_backup_when_it_is_due(
    open_shop: OpenShop, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    day, database = timedelta(days=1), open_shop.database
    # What was left behind by one that was killed a week ago goes, and what is being made now stays.
    old, young = (settings.backup_folder / f".being-made-{age}" for age in ("old", "young"))
    for folder in (old, young):
        folder.mkdir(parents=True)
    os.utime(old, (0, 0))
    scratch = "flutebench_check_20200102030405000000"
    if settings.database_url.startswith("postgresql"):
        with database.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.execute(sa.text(f"CREATE DATABASE {scratch} TEMPLATE template0"))
    assert make_if_due(settings, database, day)
    assert (old.exists(), young.exists()) == (False, True)
    if settings.database_url.startswith("postgresql"):
        with database.read() as session:
            assert scratch not in session.execute(sa.text("SELECT datname FROM pg_database")).scalars().all()
    assert not make_if_due(settings, database, day)
    with database.write() as session, at(now() + timedelta(days=1, minutes=1)):
        assert schedule.claim(session, BACKUP, day, timedelta(hours=2))
        assert not schedule.claim(session, BACKUP, day, timedelta(hours=2))
    with database.write() as session, at(now() + timedelta(days=1, hours=3)):  # the one that held it died
        assert schedule.claim(session, BACKUP, day, timedelta(hours=2))
        schedule.finish(session, BACKUP)
        with at(now() - timedelta(days=30)):  # the clock was set back: better one backup too many
            assert schedule.claim(session, BACKUP, day, timedelta(hours=2))
            schedule.finish(session, BACKUP)

    def full(*_: object, **__: object) -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr("webapp.keeping.backups.schedule.back_up", full)
    with at(now() + timedelta(days=4)):
        assert not make_if_due(settings, database, day)
        with database.read() as session:
            assert session.get_one(Chore, BACKUP).fault == "the disk is full"
            assert session.get_one(Chore, BACKUP).done_at is not None
        assert not make_if_due(settings, database, day)  # not again and again while it lasts


def test_backups_are_thinned_out_by_days_weeks_and_months(tmp_path: Path) -> None:
    first = datetime(2025, 1, 1, 2, 0, tzinfo=UTC)
    moments = [first + timedelta(hours=12 * n) for n in range(2 * 500)]
    kept = sorted(rotation.to_keep(moments), reverse=True)
    assert kept[0] == moments[-1]
    assert [m.date() for m in kept[: rotation.DAYS]] == [(moments[-1] - timedelta(days=n)).date() for n in range(7)]
    months = [m for m in kept if m == max(x for x in moments if (x.year, x.month) == (m.year, m.month))]
    assert len(months) == rotation.MONTHS
    assert len(kept) <= rotation.DAYS + rotation.WEEKS + rotation.MONTHS
    for moment in moments[-20:]:
        (tmp_path / file_name(moment)).touch()
    for other in ("notes.tar", "flutebench-soon.tar", "before-0002-20250101-020000.sqlite3"):
        (tmp_path / other).touch()
    assert moment_of(tmp_path / file_name(first)) == first
    last = moments[-1] + timedelta(minutes=1)
    removed = rotation.rotate(tmp_path, last)
    assert {moment for moment, _ in rotation.backups(tmp_path)} == rotation.to_keep(moments[-20:]) | {moments[-2]}
    assert len(removed) + len(rotation.backups(tmp_path)) == 20
    assert (tmp_path / "notes.tar").exists()


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_one_made_by_hand_takes_the_place_of_no_other(settings: Settings, client: TestClient, app: FastAPI) -> None:
    """This morning's backup stays when somebody asks for one more, and theirs stays through the nights after."""
    app.state.settings = settings
    morning, _ = back_up(settings, moment=datetime.now(UTC) - timedelta(hours=5))
    assert client.post("/shop/backups").status_code == 200
    until = time.monotonic() + 60
    while (
        len(found := rotation.backups(settings.backup_folder)) < 2
        or ", by hand" not in client.get("/shop/backups").text
    ):
        assert time.monotonic() < until
        time.sleep(0.05)
    assert ", by hand" in client.get("/shop/backups").text
    assert [path for _, path in found][1:] == [morning]


def test_what_was_made_by_hand_and_today_is_not_thinned_out(tmp_path: Path) -> None:
    day = datetime(2026, 3, 4, tzinfo=UTC)
    hours = [2, 8, 14, 20]
    regular = [tmp_path / file_name(day + timedelta(hours=hour)) for hour in hours]
    by_hand = [tmp_path / file_name(day + timedelta(hours=hour), by_hand=True) for hour in (9, 21)]
    for path in regular + by_hand:
        path.touch()

    def left(after: timedelta) -> set[Path]:
        rotation.rotate(tmp_path, day + after)
        return set(tmp_path.iterdir())

    assert left(timedelta(hours=23)) == {*regular, *by_hand}
    assert left(timedelta(days=2)) == {regular[-1], *by_hand}
    assert left(timedelta(days=31)) == {regular[-1], *by_hand}
    assert left(timedelta(days=33)) == {by_hand[-1]}


def test_a_database_without_a_shop_is_no_backup(settings: Settings, tmp_path: Path) -> None:
    with pytest.raises(NotSound, match="no database"):
        back_up(Settings(data=tmp_path / "nothing"))
    if db.sqlite_path(settings.database) is None:
        with pytest.raises(NotSound, match="failed"):
            back_up(settings.model_copy(update={"database_url": settings.database + "_none"}))
