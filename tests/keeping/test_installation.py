"""The certificate, the systemd unit and the doctor."""

import ipaddress
import os
import shutil
import socket
import ssl
import subprocess
import threading
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from typer.testing import CliRunner

from tests.shops import OpenShop
from webapp import cli, db
from webapp.keeping import certificates, doctor, mending, service
from webapp.keeping.backups.archive import PHOTOS
from webapp.keeping.backups.backing_up import back_up
from webapp.keeping.hold.file_lock import lock_of, scratch_folder
from webapp.models import Event
from webapp.settings import Settings


def fetched_over_tls(files: certificates.Files, name: str) -> str:
    """What a client that trusts our authority alone reads from a server with our certificate, asked for by `name`."""
    serving = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    serving.load_cert_chain(files.certificate, files.key)
    asking = ssl.create_default_context(cafile=str(files.authority))
    with closing(socket.create_server(("127.0.0.1", 0))) as listening:

        def answer() -> None:
            try:
                with serving.wrap_socket(listening.accept()[0], server_side=True) as connection:
                    connection.sendall(b"here")
            except OSError:
                pass

        thread = threading.Thread(target=answer)
        thread.start()
        try:
            with (
                socket.create_connection(listening.getsockname()) as plain,
                asking.wrap_socket(plain, server_hostname=name) as secure,
            ):
                return secure.recv(10).decode()
        finally:
            thread.join()


def test_a_tablet_that_trusts_the_shop_reaches_it_by_its_names_alone(tmp_path: Path) -> None:
    assert certificates.days_left(tmp_path) is None
    files = certificates.make(tmp_path, ["bench.local", "127.0.0.1", "fe80::1"], "Alder Lane")
    assert certificates.names_of(tmp_path) == ["bench.local", "127.0.0.1", "fe80::1"]
    assert certificates.days_left(tmp_path) in (396, 397)
    for name in ("bench.local", "127.0.0.1"):
        assert fetched_over_tls(files, name) == "here"
    with pytest.raises(ssl.SSLCertVerificationError):
        fetched_over_tls(files, "elsewhere.local")
    for key in (files.key, files.authority_key):
        assert key.stat().st_mode & 0o077 == 0
    # Made again for other names: the tablets need not be touched again.
    before, mark = files.authority.read_bytes(), certificates.fingerprint(tmp_path)
    certificates.make(tmp_path, ["other.local"])
    assert (files.authority.read_bytes(), certificates.fingerprint(tmp_path)) == (before, mark)
    assert fetched_over_tls(files, "other.local") == "here"
    for odd in ("", "two words", "bücher.local"):
        with pytest.raises(ValueError, match="neither"):
            certificates.make(tmp_path, [odd])


@pytest.mark.skipif(shutil.which("openssl") is None, reason="openssl is not installed")
def test_openssl_finds_the_chain_good(tmp_path: Path) -> None:
    files = certificates.make(tmp_path, ["bench.local"])
    words = ["openssl", "verify", "-x509_strict", "-purpose", "sslserver", "-CAfile", str(files.authority)]
    assert subprocess.run([*words, str(files.certificate)], capture_output=True, text=True).stdout.endswith("OK\n")


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not installed")
@pytest.mark.parametrize("folder", ["data", "our data 100%"])
def test_systemd_takes_the_unit(tmp_path: Path, folder: str) -> None:
    data = tmp_path / folder
    data.mkdir()
    unit = tmp_path / "flutebench.service"
    store = tmp_path / "credstore"
    store.mkdir()
    (store / "flutebench_seal_key").write_bytes(b"encrypted")
    text = service.unit(Settings(data=data, backups=tmp_path / "elsewhere"), "root", store)
    assert f"\nLoadCredentialEncrypted=flutebench_seal_key:{store}/flutebench_seal_key\n" in text
    assert "LoadCredential" not in service.unit(Settings(data=data), "root", tmp_path / "none")
    # The program itself need not be installed for this check; another that exists stands in.
    lines = ["ExecStart=/bin/true serve" if line.startswith("ExecStart") else line for line in text.splitlines()]
    unit.write_text("\n".join(lines))
    done = subprocess.run(["systemd-analyze", "verify", str(unit)], capture_output=True, text=True)
    assert (done.returncode, [s for s in done.stderr.splitlines() if "flutebench.service" in s]) == (0, [])
    # Of 100 that an attacker could do to the machine from within the service, as systemd itself counts them.
    words = ["systemd-analyze", "security", "--offline=true", "--threshold=25", str(unit)]
    found = subprocess.run(words, capture_output=True, text=True)
    assert found.returncode == 0, found.stdout[-200:]


def test_the_doctor_finds_what_is_well_and_what_is_not(settings: Settings) -> None:
    mending.close_to_others(settings)
    # The tests' own PostgreSQL does not wait for its disk.
    lossy = {"loss of power"} if settings.database_url.startswith("postgresql") else set()
    assert {one.what for one in doctor.examine(settings) if not one.well} == {"backup", "backup folder"} | lossy
    back_up(settings)
    mending.close_to_others(settings)
    unwell = {one.what: one.said for one in doctor.examine(settings) if not one.well}
    assert set(unwell) == lossy
    assert all("fsync and synchronous_commit and full_page_writes off" in said for said in unwell.values())
    settings.data.chmod(0o755)
    engine = db.make_engine(settings.database)
    with engine.begin() as connection:
        later = datetime.now(UTC) + timedelta(days=2)
        connection.execute(sa.update(Event).values(at=later))
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '0001'"))
    engine.dispose()
    # On SQLite it shows that the tables are not those of that revision.
    foreign = {"nothing foreign"} if not lossy else set()
    away = settings.model_copy(update={"host": "0.0.0.0"})
    assert {one.what for one in doctor.examine(away) if not one.well} == {
        "for the owner alone",
        "schema",
        "clock",
        "tablets",
    } | lossy | foreign
    certificates.make(settings.data, [str(ipaddress.IPv4Address("192.0.2.7"))])
    assert "tablets" not in {one.what for one in doctor.examine(away) if not one.well}


def test_the_doctor_goes_on_where_nothing_is_there(tmp_path: Path) -> None:
    unwell = [one.what for one in doctor.examine(Settings(data=tmp_path / "nothing")) if not one.well]
    assert unwell == ["data folder", "database", "schema", "clock", "backup folder", "backup"]


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_the_doctor_mends_what_it_can(open_shop: OpenShop, settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    open_shop.database.close()
    monkeypatch.setenv("FLUTEBENCH_DATA", str(settings.data))
    monkeypatch.setenv("FLUTEBENCH_DATABASE_URL", settings.database_url)
    settings.backup_folder.mkdir()
    left = [settings.data / ".restoring-1", settings.backup_folder / ".being-made-1", settings.data / ".restoring-2"]
    for folder in left:
        folder.mkdir()
    # One whose program was killed a moment ago, two from before locks were kept, and one where somebody is at work.
    lock_of(left[0]).touch()
    for folder in left[1:]:
        os.utime(folder, (0, 0))
    settings.data.chmod(0o755)
    (settings.data / PHOTOS).chmod(0o777)
    runner = CliRunner()
    with scratch_folder(".restoring-", settings.data) as busy:
        found = runner.invoke(cli.app, ["doctor"])
        assert found.exit_code == 1
        assert [path for path in left if str(path) not in found.output] == []
        assert str(busy) not in found.output
        assert all(path.exists() for path in left)
        assert runner.invoke(cli.app, ["doctor", "--mend"]).exit_code == 0
        assert busy.exists()
    assert not any(path.exists() for path in left)
    assert mending.open_to_others(settings) == []
    # A schema that this program does not know is nothing to mend.
    engine = db.make_engine(settings.database)
    with engine.begin() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))
    engine.dispose()
    refused = runner.invoke(cli.app, ["doctor", "--mend"])
    assert refused.exit_code == 1
    assert "could not be mended: The database is at schema 9999" in refused.output


def test_the_doctor_makes_nothing_in_a_folder_without_a_shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FLUTEBENCH_DATA", str(tmp_path / "mistyped"))
    done = CliRunner().invoke(cli.app, ["doctor", "--mend"])
    assert (done.exit_code, "is it this folder that is meant?" in done.output) == (1, True)
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "mistyped").mkdir(mode=0o700)
    assert CliRunner().invoke(cli.app, ["doctor", "--mend"]).exit_code == 1
    assert list(tmp_path.rglob("*")) == [tmp_path / "mistyped"]
