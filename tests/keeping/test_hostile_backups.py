"""Backups put together by somebody who means harm: refused by check and by restore, and nothing of them runs."""

import hashlib
import io
import json
import os
import sqlite3
import tarfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient

from tests import blanks as made
from tests.shops import OpenShop
from webapp import db
from webapp.keeping.backups import postgres_tools
from webapp.keeping.backups.archive import LIST, PHOTOS, POSTGRESQL, SQLITE, NotSound
from webapp.keeping.backups.backing_up import back_up, check, count_rows
from webapp.keeping.backups.restoring import restore
from webapp.models import FileKind, Photo
from webapp.settings import Settings

on_sqlite = pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
on_postgresql = pytest.mark.parametrize("migrated_database_url", ["postgresql"], indirect=True)

DATABASES = {
    "a trigger": "CREATE TRIGGER kind AFTER UPDATE ON person BEGIN UPDATE person SET role = 'owner'; END",
    "a trigger in place of ours": "DROP TRIGGER search_row_gone; CREATE TRIGGER search_row_gone "
    "AFTER DELETE ON search_row BEGIN UPDATE person SET role = 'owner'; END",
    "a view": "CREATE VIEW nice AS SELECT * FROM person",
    "a view in place of a table": "ALTER TABLE drill RENAME TO drill2; CREATE VIEW drill AS SELECT * FROM drill2",
    "a table": "CREATE TABLE mine (id INTEGER PRIMARY KEY)",
    "a table of another module": "CREATE VIRTUAL TABLE mine USING fts5(words)",
    "a column": "ALTER TABLE person ADD COLUMN more VARCHAR(20)",
    "a generated column": "ALTER TABLE person ADD COLUMN more AS (lower(name))",
    "a missing table": "PRAGMA foreign_keys = OFF; DROP TABLE drill",
    "a missing index": "DROP INDEX ix_customer_name",
    "an index over an expression": "CREATE INDEX mine ON person (lower(name))",
    "another default": "PRAGMA writable_schema = ON; UPDATE sqlite_master SET sql = "
    "replace(sql, 'units VARCHAR', 'units VARCHAR(4) DEFAULT ''mm'' -- ') WHERE name = 'person' AND type = 'table'",
    "two revisions": "INSERT INTO alembic_version VALUES ('0002')",
    "an unknown revision": "UPDATE alembic_version SET version_num = '9999'",
    "no revision": "DROP TABLE alembic_version",
    "a photo elsewhere": "UPDATE photo SET file_name = '../shop.sqlite3' WHERE id = 1",
    "a photo at the root": "UPDATE photo SET file_name = '/etc/passwd' WHERE id = 1",
    "a photo of another name": "UPDATE photo SET file_name = 'server.key' WHERE id = 1",
    "a photo that is not there": f"UPDATE photo SET file_name = '{9:032x}.jpg' WHERE id = 1",
}


def rebuilt(archive: Path, into: Path, change: Callable[[dict[str, bytes]], None]) -> Path:
    """The backup with other files in it, and a list of contents that agrees with them."""
    files = {}
    with tarfile.open(archive) as tar:
        for member in tar:
            file = tar.extractfile(member)
            assert file is not None
            files[member.name] = file.read()
    listed = json.loads(files.pop(LIST))
    change(files)
    listed["files"] = {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}
    return packed(into, [(LIST, json.dumps(listed).encode()), *files.items()])


def packed(into: Path, files: list[tuple[str, bytes]], how: str = "w") -> Path:
    with tarfile.open(into, how) as tar:  # type: ignore[call-overload]
        for name, content in files:
            tar.addfile(member(name, content), io.BytesIO(content))
    return into


def member(name: str, content: bytes = b"") -> tarfile.TarInfo:
    info = tarfile.TarInfo(name)
    info.size = len(content)
    return info


def refused(settings: Settings, bad: Path) -> str:
    """What check says of it; restore says the same, and changes nothing."""
    before = count_rows(settings.database)
    with pytest.raises(NotSound) as told:
        check(settings, bad)
    with pytest.raises(NotSound) as again:
        restore(settings, bad, over=True)
    assert str(again.value) == str(told.value)
    assert count_rows(settings.database) == before
    assert not list(settings.data.glob(".restoring-*"))
    return str(told.value)


@on_sqlite
def test_a_database_with_something_foreign_is_refused(settings: Settings, tmp_path: Path, open_shop: OpenShop) -> None:
    archive, strange = back_up(settings)
    open_shop.database.close()
    assert strange == []
    for what, statements in DATABASES.items():

        def change(files: dict[str, bytes], statements: str = statements) -> None:
            (tmp_path / "changed").write_bytes(files[SQLITE])
            with closing(sqlite3.connect(tmp_path / "changed")) as connection:
                connection.executescript(statements)
                connection.commit()
            files[SQLITE] = (tmp_path / "changed").read_bytes()

        told = refused(settings, rebuilt(archive, tmp_path / "bad.tar", change))
        assert told.startswith("its database") or "photo" in told, what
        # The same as a bare copy of the database, which is taken too.
        if "photo" not in what:
            with pytest.raises(NotSound):
                restore(settings, tmp_path / "changed", over=True)
        print(f"{what}: {told}")
    assert sum(1 for _ in DATABASES) == 19


def _link(tar: tarfile.TarFile, kind: bytes, to: str) -> None:
    info = member(f"{PHOTOS}/{7:032x}.jpg")
    info.type, info.linkname = kind, to
    tar.addfile(info)


@on_sqlite
def test_an_archive_of_another_shape_is_refused(settings: Settings, tmp_path: Path) -> None:
    archive, _ = back_up(settings)
    name = f"{PHOTOS}/{7:032x}.jpg"
    bad = tmp_path / "bad.tar"
    for kind in (tarfile.SYMTYPE, tarfile.LNKTYPE, tarfile.CHRTYPE, tarfile.BLKTYPE, tarfile.FIFOTYPE, tarfile.DIRTYPE):
        bad.write_bytes(archive.read_bytes())
        with tarfile.open(bad, "a") as tar:
            _link(tar, kind, f"../{SQLITE}")
        assert "more than plain files" in refused(settings, bad), kind
    for odd in (
        "../outside.jpg",
        "/tmp/outside.jpg",
        f"{PHOTOS}/../outside.jpg",
        "seal.key",
        f"{PHOTOS}/a/b.jpg",
        LIST,
    ):
        told = refused(settings, rebuilt(archive, bad, lambda files, odd=odd: files.update({odd: b"x"})))  # type: ignore[misc]
        assert "never gives" in told, odd
    assert not list(tmp_path.rglob("outside.jpg")) and not (settings.data / "seal.key").exists()
    # A file that is not on the list, and one that is there twice.
    for one in (name, SQLITE):
        bad.write_bytes(archive.read_bytes())
        with tarfile.open(bad, "a") as tar:
            tar.addfile(member(one, b"x"), io.BytesIO(b"x"))
        assert "not on its list, or twice" in refused(settings, bad)
    # A file of holes, which would fill the disk: 1 TB in one block of the archive (GNU and pax).
    for keywords in ({"GNU.sparse.major": "1", "GNU.sparse.minor": "0", "GNU.sparse.realsize": str(10**12)},):
        info = member(name, b"0\n" + bytes(510))
        info.pax_headers = keywords
        with tarfile.open(bad, "w", format=tarfile.PAX_FORMAT) as tar:
            listed = {**json.loads(_list_of(archive)), "files": {SQLITE: "0" * 64, name: "0" * 64}}
            content = json.dumps(listed).encode()
            tar.addfile(member(LIST, content), io.BytesIO(content))
            tar.addfile(info, io.BytesIO(b"0\n" + bytes(510)))
        assert "no plain file" in refused(settings, bad) or "damaged" in refused(settings, bad)


def _list_of(archive: Path) -> bytes:
    with tarfile.open(archive) as tar:
        file = tar.extractfile(LIST)
        assert file is not None
        return file.read()


@on_sqlite
def test_an_archive_that_unpacks_to_more_than_it_is_is_refused(settings: Settings, tmp_path: Path) -> None:
    archive, _ = back_up(settings)
    files: dict[str, bytes] = {}
    with tarfile.open(archive) as tar:
        for one in tar:
            file = tar.extractfile(one)
            assert file is not None
            files[one.name] = file.read()
    for how in ("w:gz", "w:bz2", "w:xz"):
        told = refused(settings, packed(tmp_path / "bad.tar", list(files.items()), how))
        assert "no backup of Flutebench" in told, how
    # A header of 100 MB, which would be read into memory.
    info = member(f"{PHOTOS}/{7:032x}.jpg")
    info.pax_headers = {"comment": "x" * 100_000_000}
    with tarfile.open(tmp_path / "bad.tar", "w", format=tarfile.PAX_FORMAT) as tar:
        tar.addfile(info)
    assert "headers is too large" in refused(settings, tmp_path / "bad.tar")
    (tmp_path / "bad.tar").unlink()


@on_sqlite
def test_an_odd_list_of_contents_is_refused(settings: Settings, tmp_path: Path) -> None:
    archive, _ = back_up(settings)
    good = json.loads(_list_of(archive))
    oddities: list[object] = [
        [],
        {},
        good | {"files": ["shop.sqlite3"]},
        good | {"files": {SQLITE: 5}},
        good | {"rows": {"blank": "1"}},
        good | {"rows": None},
        good | {"made_at": "\x1b[2J"},
        good | {"database": "../shop.sqlite3"},
        good | {"schema": ["0001"]},
    ]
    for odd in oddities:
        bad = packed(tmp_path / "bad.tar", [(LIST, json.dumps(odd).encode())])
        assert "list of contents" in refused(settings, bad), odd
    bad = packed(tmp_path / "bad.tar", [(LIST, b"[" * 100_000)])
    assert "list of contents" in refused(settings, bad)


def test_a_shop_with_something_of_its_own_is_backed_up_and_told(open_shop: OpenShop, settings: Settings) -> None:
    """Better a backup that says so than none."""
    with open_shop.database.engine.execution_options(writes=True).connect() as connection:
        connection.execute(sa.text("CREATE VIEW mine AS SELECT name FROM person"))
        connection.commit()
    archive, [strange] = back_up(settings)
    assert strange == "it has view 'mine', which Flutebench does not know"
    with pytest.raises(NotSound, match="view 'mine'"):
        check(settings, archive)


@on_postgresql
def test_nothing_of_a_dump_runs(open_shop: OpenShop, settings: Settings, tmp_path: Path) -> None:
    """What a dump says to be an index may be anything: only rows are taken from it."""
    archive, _ = back_up(settings)
    open_shop.database.close()
    planted = b"CREATE TABLE planted AS SELECT * FROM public.person;"

    def change(files: dict[str, bytes]) -> None:
        whole = files[POSTGRESQL]
        begins = whole.index(b"CREATE INDEX ")
        ends = whole.index(b";\n", begins) + 1
        assert ends - begins > len(planted)
        files[POSTGRESQL] = whole[:begins] + planted.ljust(ends - begins) + whole[ends:]

    bad = rebuilt(archive, tmp_path / "bad.tar", change)
    before = count_rows(settings.database)
    check(settings, bad)
    restore(settings, bad, over=True)
    assert count_rows(settings.database) == before
    with open_shop.database.read() as session:
        tables = sa.inspect(session.connection()).get_table_names()
        indexes = {one["name"] for one in sa.inspect(session.connection()).get_indexes("customer")}
    assert "planted" not in tables
    assert "ix_customer_name" in indexes


@on_postgresql
@pytest.mark.parametrize(
    "statement",
    [
        "CREATE FUNCTION kind() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'",
        "CREATE TABLE mine (id int)",
        "CREATE RULE kind AS ON UPDATE TO drill DO ALSO UPDATE person SET role = 'owner'",
        "ALTER TABLE drill ADD COLUMN more int",
        "UPDATE photo SET file_name = '../secret.jpg' WHERE id = 1",
    ],
)
def test_a_dump_with_something_foreign_is_refused(open_shop: OpenShop, settings: Settings, statement: str) -> None:
    good, _ = back_up(settings)
    with open_shop.database.engine.execution_options(writes=True).connect() as connection:
        connection.execute(sa.text(statement))
        connection.commit()
    path = settings.data / "bare.pgdump"
    postgres_tools.dump(settings.database, path)
    open_shop.database.close()

    def change(files: dict[str, bytes]) -> None:
        files[POSTGRESQL] = path.read_bytes()

    refused(settings, rebuilt(good, settings.data / "bad.tar", change))
    if "photo" not in statement:
        with pytest.raises(NotSound):
            restore(settings, path, over=True)


@on_sqlite
def test_a_row_gives_no_file_from_elsewhere(client: TestClient, open_shop: OpenShop, tmp_path: Path) -> None:
    (tmp_path / PHOTOS).mkdir()
    (tmp_path / "secret.jpg").write_bytes(b"a secret")
    linked = f"{8:032x}.jpg"
    (tmp_path / PHOTOS / linked).symlink_to(tmp_path / "secret.jpg")
    own = f"{9:032x}.jpg"
    (tmp_path / PHOTOS / own).write_bytes(b"a picture")
    with open_shop.database.write() as session:
        [blank] = made.opened(session, open_shop.maker, flute_id=made.order(session))
        for name in ("../secret.jpg", str(tmp_path / "secret.jpg"), linked, own):
            session.add(
                Photo(blank_id=blank.id, kind=FileKind.PICTURE, sha256="0" * 64, size=8, file_name=name[:80], by=1)
            )
        session.commit()
    found = [client.get(f"/photos/{n}/picture.jpg").status_code for n in (1, 2, 3, 4)]
    assert found == [404, 404, 404, 200]
    assert os.path.lexists(tmp_path / PHOTOS / linked)


def test_a_bare_copy_of_the_other_kind_is_told(settings: Settings, tmp_path: Path) -> None:
    sqlite = db.sqlite_path(settings.database) is not None
    (tmp_path / "bare").write_bytes(b"PGDMP" + bytes(100) if sqlite else b"SQLite format 3\0" + bytes(100))
    with pytest.raises(NotSound, match="other kind"):
        restore(settings, tmp_path / "bare", over=True)
