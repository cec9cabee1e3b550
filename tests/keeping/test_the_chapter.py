"""The guide's chapter on backups, followed word for word, by the program itself in a place of its own."""

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

import pytest
from sqlmodel import select

from tests.keeping.programs import ROOT
from webapp.db import Database
from webapp.keeping.backups.backing_up import count_rows
from webapp.keeping.hold import in_use
from webapp.models import Customer, Person
from webapp.security.sealing import Seal
from webapp.settings import Settings

pytestmark = pytest.mark.skipif(os.name != "posix" or shutil.which("sh") is None, reason="its commands are for a shell")
CHAPTER = ROOT / "webapp/templates/guide/chapters/backups.html"
PROGRAM = f"""#!/bin/sh
PYTHONPATH="{ROOT}" exec "{sys.executable}" -c "from webapp.cli import main; main()" "$@"
"""
NEW_PASSWORD = "another long one"


class Folder:
    """The program's own folder, with `.venv` in it and the shop's data beside that."""

    def __init__(self, path: Path) -> None:
        self.path, self.stick, self.new = path, path / "stick.tar", path / "new"
        program = path / ".venv/bin/flutebench"
        program.parent.mkdir(parents=True)
        program.write_text(PROGRAM)
        program.chmod(0o755)

    def typed(self, command: str) -> subprocess.Popen[str]:
        for name, here in {"FILE": self.stick, "NEW-FOLDER": self.new, "8001": _free_port(), "NAME": "ines"}.items():
            command = re.sub(rf"\b{name}\b", str(here), command)
        plain = {name: value for name, value in os.environ.items() if not name.startswith("FLUTEBENCH_")}
        # As most systems have it: what is written can be read by everybody, were it not for the program.
        return subprocess.Popen(
            ["sh", "-c", f"umask 022; {command}"],
            cwd=self.path,
            env=plain | {"FLUTEBENCH_PORT": "0"},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,  # no terminal: a password is read from what is typed below
        )

    def follow(self, command: str, code: int | None = 0) -> str:
        done = self.typed(command)
        said, _ = done.communicate(f"{NEW_PASSWORD}\n{NEW_PASSWORD}\n" if " user " in command else "", timeout=400)
        assert code is None or done.returncode == code, (command, said)
        return said

    @contextmanager
    def serving(self, command: str, data: Path) -> Iterator[int]:
        """The server's process, once it has the shop open; asked to stop afterwards."""
        url, server = Settings(data=data).database, self.typed(command)
        try:
            until = time.monotonic() + 400
            while not (there := [one.pid for one in in_use.holders(url) if one.program == "serve" and not one.alone]):
                assert server.poll() is None and time.monotonic() < until, server.communicate()
                time.sleep(0.05)
            yield there[0]
            with suppress(ProcessLookupError):
                os.kill(there[0], signal.SIGTERM)
            server.communicate(timeout=400)
        finally:
            with suppress(ProcessLookupError):
                os.killpg(server.pid, signal.SIGKILL)
            server.communicate()


def _free_port() -> int:
    with closing(socket.create_server(("127.0.0.1", 0))) as free:
        port: int = free.getsockname()[1]
        return port


@pytest.fixture
def folder(tmp_path: Path, open_migrated_sqlite_file: Path) -> Folder:
    made = Folder(tmp_path / "flutebench")
    data = made.path / "data"
    data.mkdir()
    shutil.copyfile(open_migrated_sqlite_file, data / "shop.sqlite3")
    database = Database(Settings(data=data).database)
    with database.write() as session:
        ines = session.exec(select(Person).where(Person.sign_in_name == "ines")).one()
        ines.code_secret = Seal(data).seal("a secret")
        session.commit()
    database.close()
    return made


def test_followed_word_for_word(folder: Folder) -> None:
    """Beginning with a running shop; the steps stand here in the order of the chapter, and none is left out."""
    commands = re.findall(r'command\("(.*?)"\)', CHAPTER.read_text())
    (by_hand, to_file, check, elsewhere, look, put_back, over, user, doctor, mend) = commands
    data, url = folder.path / "data", Settings(data=folder.path / "data").database
    with folder.serving(".venv/bin/flutebench serve", data) as server:
        said = folder.follow(by_hand)
        [first] = (data / "backups").iterdir()
        assert str(data / "shop.sqlite3") in said and str(first) in said
        assert str(folder.stick) in folder.follow(to_file)
        assert "is whole" in folder.follow(check)

        said = folder.follow(elsewhere)
        assert str(folder.new / "shop.sqlite3") in said
        assert "codes of the second step fail here for ines" in said and "seal.key" in said
        assert _rows(Settings(data=folder.new).database) == _rows(url)
        with folder.serving(look, folder.new):
            pass

        _work_goes_on(url)
        rows = _rows(url)
        assert "FLUTEBENCH_DATA" in folder.follow(put_back, code=1)
        assert f"process {server}" in folder.follow(over.removesuffix(" --stop-shop"), code=1)
        assert _rows(url) == rows
        said = folder.follow(over)
        assert str(data / "shop.sqlite3") in said
        assert "second step" not in said  # the key is still in its place
        assert _rows(url)["customer"] == rows["customer"] - 1
    [kept] = (data / "backups").glob("before-restore-*.sqlite3")
    # What was kept is put back in the same way.
    folder.follow(f".venv/bin/flutebench restore {kept} --over")
    assert _rows(url) == rows

    assert "new password" in folder.follow(user)
    (data / ".restoring-left").mkdir()
    os.utime(data / ".restoring-left", (0, 0))
    assert "doctor --mend" in folder.follow(doctor, code=1)
    assert "LOOK" not in folder.follow(mend)
    assert "LOOK" not in folder.follow(doctor)
    open_to_others = [path for place in (data, folder.new) for path in _all(place) if path.stat().st_mode & 0o077]
    assert open_to_others == []
    assert folder.stick.stat().st_mode & 0o077 == 0


def _all(folder: Path) -> list[Path]:
    return [folder, *folder.rglob("*")]


def _rows(url: str) -> dict[str, int]:
    """Without what a running server counts for itself."""
    return {table: rows for table, rows in count_rows(url).items() if table not in ("chore", "change_count")}


def _work_goes_on(url: str) -> None:
    database = Database(url)
    with database.write() as session:
        session.add(Customer(name="Came later"))
        session.commit()
    database.close()


def test_what_the_program_writes_is_for_its_owner_alone(tmp_path: Path) -> None:
    """A new shop, from the first start on, on a system where files are readable by everybody otherwise."""
    folder = Folder(tmp_path / "flutebench")
    data = folder.path / "data"
    with folder.serving(".venv/bin/flutebench serve", data):
        folder.follow(".venv/bin/flutebench backup")
        folder.follow(".venv/bin/flutebench certificate localhost")
        folder.follow(".venv/bin/flutebench new-seal", code=None)
        found = {path: oct(path.stat().st_mode & 0o777) for path in _all(data) if path.stat().st_mode & 0o077}
    assert {path.name for path in _all(data)} >= {"shop.sqlite3", "backups", "seal.key", "authority.key"}
    # Certificates are handed out to everybody, in a folder that is not.
    assert {path.name for path in found} <= {"authority.crt", "server.crt"}
