"""PostgreSQL's own pg_dump and pg_restore, found and run; passwords never go on the command line."""

import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

import sqlalchemy as sa

from webapp.keeping.backups.archive import NotSound

_FOLDERS = "/usr/lib/postgresql"


def find(name: str) -> str:
    """Raises NotSound where the program is not installed."""
    found = shutil.which(name)
    if found is None:
        versions = sorted(Path(_FOLDERS).glob(f"*/bin/{name}"), key=lambda path: float(path.parts[-3]))
        found = str(versions[-1]) if versions else None
    if found is None:
        raise NotSound(f"{name} is not installed; it comes with PostgreSQL's client programs (postgresql-client)")
    return found


def dump(url: str, to: Path) -> None:
    """The whole database in PostgreSQL's own compressed format, as it stood at one moment. Raises NotSound."""
    _run([find("pg_dump"), "--format=custom", "--no-owner", "--no-privileges", f"--file={to}"], url)


def restore(url: str, dumped: Path) -> None:
    """Into an empty database, all or nothing. Raises NotSound."""
    words = ["--no-owner", "--no-privileges", "--exit-on-error", "--single-transaction"]
    _run([find("pg_restore"), *words, f"--dbname={_address(url)}", str(dumped)], url)


def replace(url: str, dumped: Path) -> None:
    """In place of all that the database holds, in one transaction, so all or nothing. Raises NotSound."""
    with tempfile.TemporaryDirectory(prefix="flutebench-restore-") as folder:
        script = Path(folder) / "restore.sql"
        _run([find("pg_restore"), "--no-owner", "--no-privileges", f"--file={script}", str(dumped)], url)
        empty = ["-c", "DROP SCHEMA public CASCADE", "-c", "CREATE SCHEMA public"]
        quiet = ["--no-psqlrc", "--quiet", "--single-transaction", "-v", "ON_ERROR_STOP=1"]
        _run([find("psql"), *quiet, f"--dbname={_address(url)}", *empty, "-f", str(script)], url)


@contextmanager
def rows_of(dumped: Path, table: str = "") -> Iterator[IO[bytes]]:
    """The script that would put the rows of one table or of all back, to be read, never run. Raises NotSound."""
    words = [find("pg_restore"), "--data-only", "--no-owner", "--no-privileges", "--file=-"]
    words += [f"--table={table}"] * bool(table) + [str(dumped)]
    with tempfile.TemporaryFile() as told, subprocess.Popen(words, stdout=subprocess.PIPE, stderr=told) as running:
        assert running.stdout is not None
        try:
            yield running.stdout
        except BaseException:
            running.kill()
            raise
        running.stdout.read()
        if running.wait() != 0:
            told.seek(0)
            raise NotSound(f"pg_restore failed: {told.read().decode(errors='replace').strip()[-400:]}")


def listed(dumped: Path) -> list[tuple[str, str]]:
    """What a dump says that it consists of: the kind of each entry, and its name. Raises NotSound."""
    done = subprocess.run([find("pg_restore"), "--list", str(dumped)], capture_output=True, text=True, timeout=600)
    if done.returncode != 0:
        raise NotSound(f"pg_restore failed: {done.stderr.strip()[-400:]}")
    entries = re.findall(r"^\d+; \d+ \d+ ([A-Z][A-Z ]*[A-Z]) (\S+) (\S+)", done.stdout, re.MULTILINE)
    return [(kind, name) for kind, _, name in entries]


def _run(words: list[str], url: str) -> None:
    parsed = sa.engine.make_url(url)
    environment = {**os.environ, "PGPASSWORD": parsed.password or os.environ.get("PGPASSWORD", "")}
    if words[0].endswith("pg_dump"):
        words = [*words, f"--dbname={_address(url)}"]
    done = subprocess.run(words, env=environment, capture_output=True, text=True, timeout=3600)
    if done.returncode != 0:
        raise NotSound(f"{Path(words[0]).name} failed: {done.stderr.strip()[-400:]}")


def _address(url: str) -> str:
    """The address as PostgreSQL's own programs take it, without the password."""
    return sa.engine.make_url(url).set(drivername="postgresql")._replace(password=None).render_as_string()
