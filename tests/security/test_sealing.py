"""The key that seals secrets: made once, even by two processes at once, and of use to nobody else."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.doors import with_second_step
from tests.shops import OpenShop
from webapp import cli
from webapp.models import Person
from webapp.security.sealing import FILE, Seal


def test_of_many_that_begin_at_once_all_use_one_key(tmp_path: Path) -> None:
    seals = [Seal(tmp_path) for _ in range(8)]
    with ThreadPoolExecutor(8) as pool:
        sealed = list(pool.map(lambda seal: seal.seal("a secret"), seals))
    assert all(Seal(tmp_path).open(text) == "a secret" for text in sealed)
    assert [path.name for path in tmp_path.iterdir()] == [FILE]


def test_what_can_not_be_opened_is_nothing(tmp_path: Path) -> None:
    sealed = Seal(tmp_path / "a").seal("a secret")
    assert Seal(tmp_path / "none").open(sealed) is None
    Seal(tmp_path / "b").seal("another")
    assert Seal(tmp_path / "b").open(sealed) is None
    (tmp_path / "b" / FILE).write_bytes(b"broken")
    assert Seal(tmp_path / "b").open(sealed) is None


def test_what_is_sealed_twice_looks_different(tmp_path: Path) -> None:
    seal = Seal(tmp_path)
    assert len({seal.seal("a secret") for _ in range(10)}) == 10


def test_a_new_key_takes_the_place_of_the_old_one(tmp_path: Path) -> None:
    seal, other = Seal(tmp_path), Seal(tmp_path)
    before, key = seal.seal("a secret"), (tmp_path / FILE).read_bytes()
    assert other.open(before) == "a secret"
    seal.renew()
    after = other.seal("a secret")
    assert (other.open(before), other.open(after)) == ("a secret", "a secret"), "both open until the old one goes"
    seal.forget_old()
    assert (other.open(before), other.open(after)) == (None, "a secret")
    assert key not in (tmp_path / FILE).read_bytes()
    assert (tmp_path / FILE).stat().st_mode & 0o077 == 0
    assert [path.name for path in tmp_path.iterdir()] == [FILE]


def test_second_steps_go_on_with_a_new_key(
    open_shop: OpenShop, migrated_database_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seal = Seal(tmp_path)
    secret = with_second_step(open_shop.database, open_shop.maker, seal).codes.secret
    with open_shop.database.write() as session:
        before = session.get_one(Person, open_shop.maker.id).code_secret
        # Someone else's was sealed in a folder that is gone.
        session.get_one(Person, open_shop.office.id).code_secret = "of another folder"
        session.commit()
    monkeypatch.setenv("FLUTEBENCH_DATA", str(tmp_path))
    monkeypatch.setenv("FLUTEBENCH_DATABASE_URL", migrated_database_url)
    said = CliRunner().invoke(cli.app, ["new-seal"])
    assert (said.exit_code, "1 second step was sealed" in said.output) == (0, True), said.output
    with open_shop.database.read() as session:
        sealed = session.get_one(Person, open_shop.maker.id).code_secret
        assert sealed != before and seal.open(sealed or "") == secret
        assert session.get_one(Person, open_shop.office.id).code_secret == "of another folder"


def test_a_key_that_systemd_keeps_is_used_and_never_changed_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As systemd.exec(5) describes it: files in the folder that CREDENTIALS_DIRECTORY names."""
    Seal(tmp_path / "data").seal("a secret")
    handed = tmp_path / "handed"
    handed.mkdir()
    (tmp_path / "data" / FILE).rename(handed / "flutebench_seal_key")
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", str(handed))
    seal = Seal(tmp_path / "data")
    before = (handed / "flutebench_seal_key").read_bytes()
    assert seal.open(seal.seal("another")) == "another"
    for change in (seal.renew, seal.forget_old):
        with pytest.raises(PermissionError, match="kept by systemd"):
            change()
    assert (handed / "flutebench_seal_key").read_bytes() == before
    assert list((tmp_path / "data").iterdir()) == [], "nothing of it lies in the data folder"
