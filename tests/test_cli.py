"""The command `flutebench`, run as a person would."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.shops import PASSWORD
from webapp import cli, db
from webapp.models import Person
from webapp.security.sealing import Seal
from webapp.shop.people import door
from webapp.shop.people.guesses import Visitor
from webapp.shop.settings.setting_up import FirstRun, set_up

runner = CliRunner()


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FLUTEBENCH_DATA", str(tmp_path))
    return tmp_path


def run(*words: str, ok: bool = True) -> str:
    result = runner.invoke(cli.app, list(words))
    assert (result.exit_code == 0) is ok, result.output
    return result.output


def count_drills(path: Path) -> int:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("SELECT count(*) FROM drill").fetchone()[0]


def test_backup_and_restore_bring_back_what_was_there(data: Path) -> None:
    run("migrate")
    shop = data / "shop.sqlite3"
    with closing(sqlite3.connect(shop)) as connection:
        connection.execute("INSERT INTO drill (diameter, label) VALUES (7, 'seven')")
        connection.commit()
    copy = data / "copy.tar"
    assert "found whole" in run("backup", "--to", str(copy))
    assert "is whole" in run("check", str(copy))
    with closing(sqlite3.connect(shop)) as connection:
        connection.execute("DELETE FROM drill")
        connection.commit()

    assert "--over" in run("restore", str(copy), ok=False)
    assert count_drills(shop) == 0
    assert "kept as" in run("restore", str(copy), "--over")
    assert count_drills(shop) == 1
    [kept] = (data / "backups").iterdir()
    assert count_drills(kept) == 0


def test_a_backup_never_overwrites(data: Path) -> None:
    run("migrate")
    (data / "copy.sqlite3").write_text("precious")
    assert "exists already" in run("backup", "--to", str(data / "copy.sqlite3"), ok=False)
    assert (data / "copy.sqlite3").read_text() == "precious"


def test_a_broken_backup_replaces_nothing(data: Path) -> None:
    run("migrate")
    (data / "broken.sqlite3").write_bytes(b"no database at all" * 100)
    result = runner.invoke(cli.app, ["restore", str(data / "broken.sqlite3"), "--over"])
    assert result.exit_code != 0
    assert count_drills(data / "shop.sqlite3") == 0
    assert db.schema_revision(f"sqlite:///{data / 'shop.sqlite3'}") is not None


def test_user_sets_a_password(data: Path) -> None:
    run("migrate")
    database = db.Database(f"sqlite:///{data / 'shop.sqlite3'}")
    with database.write() as session:
        set_up(session, FirstRun(shop_name="A", owner_name="B", sign_in_name="ida", password=PASSWORD))
    run("user", "ida", "--password", "another long one")
    person = door.check(database, Visitor("here"), "ida", "another long one")
    assert person is not None
    database.close()
    seal = Seal(data)
    with database.write() as session:
        session.get_one(Person, person.id).code_secret = seal.seal("a secret")
        session.commit()
    run("user", "ida", "--password", "yet another long one", "--without-second-step")
    person = door.check(database, Visitor("here"), "ida", "yet another long one")
    assert person is not None
    assert person.code_secret is None
    database.close()
    assert "Nobody" in run("user", "ivo", "--password", "another long one", ok=False)
    assert "at least" in run("user", "ida", "--password", "short", ok=False)


def test_a_bad_setting_ends_in_one_line(data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FLUTEBENCH_PORT", "many")
    assert "setting port" in run("migrate", ok=False)
