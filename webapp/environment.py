"""Making the virtual environment `.venv` in the project's folder. Standard library only.

Several starts at once wait for each other at a lock. The lock's file says 'unfinished' while `.venv` is being
changed, so that the next start after an interruption begins afresh instead of trusting half of it.
"""

import argparse
import contextlib
import json
import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import IO

from webapp import bootstrap
from webapp.bootstrap import DIGESTS, PINS, ROOT, STAMP, VENV, VENV_PYTHON, say
from webapp.system_packages import (
    ENSUREPIP,
    PRINTING,
    MissingError,
    Need,
    follow,
    how_to_get,
    present_manager,
    provide,
)

LOCK = ROOT / ".venv.lock"
DIGESTS_HEADING = """\
# What the files of the pinned versions are (SHA-256), as constraints for pip: a file that is another is not installed.
# Made from pinned.txt by: python3 -m webapp.bootstrap --refresh-digests
"""
UNFINISHED = "unfinished"
PINS_HEADING = """\
# The versions of all packages that the tests were run with, as constraints for pip.
# Made from the newest ones by: python3 -m webapp.bootstrap --refresh-pins
"""
# Tested together with the rest, though nothing asks for them yet; and what installs and builds.
KEPT_PINS = ("websockets", "hatchling", "pip")
# Tells the digests of all files of a version, for every system; pip tells only that of the file it takes.
LOCKER = "uv>=0.13"


def make(extras: Sequence[str], needs: Sequence[Need]) -> None:
    """Make or renew `.venv`, with what the system must have.

    Raises MissingError where a person has to act, OSError where the folder cannot be written.
    """
    with _locked() as lock:
        if bootstrap.venv_is_current(extras):  # another start was quicker
            provide(needs, say)
            return
        interrupted = lock.read() == UNFINISHED
        fresh = interrupted or not _has_working_pip()
        provide([*([ENSUREPIP] if fresh else []), *needs], say)
        kept = set() if fresh else set(bootstrap.read_stamp().get("extras", ()))
        extras = sorted({*extras, *kept})
        _note(lock, UNFINISHED)
        if fresh:
            say(
                "Making a virtual environment in .venv"
                + (" afresh: the last time was cut short" if interrupted else "")
            )
            _must(follow([_base_python(), "-m", "venv", "--clear", VENV], say, _nothing, _held(lock)))
        STAMP.unlink(missing_ok=True)
        say("Installing Python packages: a minute or two the first time")
        code = _install(extras, lock)
        if code >= 0:  # not killed: even where pip gave up, it left what it had installed before whole
            _note(lock, "")
        _must(code)
        if follow([VENV_PYTHON, "-c", "import weasyprint"], say, _nothing):
            raise MissingError(how_to_get([PRINTING], present_manager()))
        _write_stamp(extras)
        say("Ready")


def _install(extras: Sequence[str], lock: IO[str]) -> int:
    """Install the packages, each file compared with its digest, and then the project itself; gives pip's code.

    Where the digests are laid down, pip refuses whatever has none or another one. Further extras that are not pinned
    (`compare`, `fem`) come with the project, unchecked.
    """
    known = bootstrap.pinned()
    asked = [one for one in bootstrap.requirements(extras) if bootstrap.plain(re.split(r"[^\w.-]", one)[0]) in known]
    wanted = f"{ROOT}[{','.join(extras)}]" if extras else str(ROOT)
    install: list[str | Path] = [*_pip(VENV_PYTHON), "install", "--no-user"]
    # The pip that comes with Python may be too old to take digests from a file of constraints.
    entry = VENV / "pip.txt"
    entry.write_text(_entry("pip"), encoding="utf-8")
    steps: list[list[str | Path]] = [
        ["--no-deps", "-r", entry],
        ["-c", DIGESTS, *asked, "hatchling"],
        ["-c", PINS, "--no-build-isolation", "-e", wanted],
    ]
    code = 0
    for step in steps:
        code = code or follow([*install, *step], say, _Collected(), _held(lock))
    return code


def _entry(name: str) -> str:
    """The lines of digests.txt about one package."""
    found = re.search(rf"^{name}==.*(\n +--hash=.*)*\n", DIGESTS.read_text(encoding="utf-8"), re.MULTILINE)
    assert found is not None, f"digests.txt has no {name}"
    return found[0]


def refresh_digests() -> None:
    """Write digests.txt again: what the files of each pinned version are, for every system that has its own."""
    provide([ENSUREPIP], say)
    with tempfile.TemporaryDirectory() as folder:
        _must(follow([_base_python(), "-m", "venv", folder], say, _nothing))
        python = Path(folder) / VENV_PYTHON.relative_to(VENV)
        _must(follow([*_pip(python), "install", LOCKER], say, _nothing))
        made = Path(folder) / "digests.txt"
        how = ["--no-deps", "--universal", "--generate-hashes", "--python-version", "3.11"]
        plainly = ["--no-header", "--no-annotate", "--no-emit-index-url", "--quiet"]
        _must(follow([python, "-m", "uv", "pip", "compile", PINS, *how, *plainly, "-o", made], say, _nothing))
        DIGESTS.write_text(DIGESTS_HEADING + made.read_text(encoding="utf-8"), encoding="utf-8")
    say(f"The digests are written to {DIGESTS.relative_to(ROOT)}")


def refresh_pins() -> None:
    """Write pinned.txt again from the newest versions that pyproject.toml allows. Run the tests afterwards."""
    provide([ENSUREPIP], say)
    with tempfile.TemporaryDirectory() as folder:
        say("Installing the newest versions into a temporary environment")
        _must(follow([_base_python(), "-m", "venv", folder], say, _nothing))
        python = Path(folder) / VENV_PYTHON.relative_to(VENV)
        _must(follow([*_pip(python), "install", "-e", f"{ROOT}[test]", *KEPT_PINS], say, _Collected()))
        lines: list[str] = []
        _must(follow([*_pip(python), "freeze", "--all", "--exclude-editable"], say, lines.append))
    lines = sorted((line for line in lines if "==" in line), key=str.casefold)
    PINS.write_text(PINS_HEADING + "".join(lines), encoding="utf-8")
    say(f"{len(lines)} versions written to {PINS.relative_to(ROOT)}; now run python3 -m tests")
    refresh_digests()


def main() -> None:
    """The command `python3 -m webapp.bootstrap`."""
    parser = argparse.ArgumentParser(prog="python3 -m webapp.bootstrap", description="Prepare .venv, or its pins.")
    parser.add_argument("--extra", action="append", default=[], help="a further group of packages, such as test")
    parser.add_argument("--refresh-pins", action="store_true", help="write pinned.txt again from newest versions")
    parser.add_argument("--refresh-digests", action="store_true", help="write digests.txt again for pinned.txt")
    options = parser.parse_args()
    known = bootstrap.read_pyproject()["project"]["optional-dependencies"]
    if unknown := set(options.extra) - known.keys():
        parser.error(f"no such extra: {', '.join(sorted(unknown))}; there are {', '.join(sorted(known))}")
    try:
        if options.refresh_pins:
            refresh_pins()
        elif options.refresh_digests:
            refresh_digests()
        else:
            bootstrap.ensure(options.extra)
    except MissingError as missing:
        sys.exit(f"{missing}\n")


class _Collected:
    """Makes pip's many lines into one for each package, and says when they are being unpacked."""

    def __init__(self) -> None:
        self._names: set[str] = set()

    def __call__(self, line: str) -> str | None:
        if line.startswith("Collecting "):
            name = re.split(r"[^\w.-]", line.split()[1])[0]
            if name not in self._names:
                self._names.add(name)
                return f"{len(self._names)}. {name}"
        if line.startswith("Installing collected packages: "):
            return f"unpacking {line.count(',') + 1} packages"
        return None


def _nothing(_line: str) -> None:
    return None


def _must(code: int) -> None:
    if code:
        raise MissingError("The environment is not ready; the lines above say why. Put that right, then start again.")


def _held(lock: IO[str]) -> list[int]:
    """What a step inherits: it holds the lock too, so that nobody gets in should this process be killed."""
    return [] if sys.platform == "win32" else [lock.fileno()]


def _pip(python: Path) -> list[str | Path]:
    return [python, "-m", "pip", "--disable-pip-version-check", "--no-input"]


def _base_python() -> str:
    """The Python that this one comes from, should it live in a virtual environment itself."""
    return getattr(sys, "_base_executable", sys.executable)


def _has_working_pip() -> bool:
    if not VENV_PYTHON.exists():
        return False
    probe = subprocess.run([VENV_PYTHON, "-c", "import pip"], capture_output=True, check=False)
    return probe.returncode == 0


def _write_stamp(extras: Sequence[str]) -> None:
    """Note that `.venv` is finished; by replacing the file, so that nobody ever reads half of it."""
    python = re.search(r"^version\w* *= *(\d+\.\d+)", (VENV / "pyvenv.cfg").read_text(), re.MULTILINE)
    stamp = {
        "digest": bootstrap.digest(),
        "extras": list(extras),
        "python": python[1] if python else bootstrap.python_version(),
    }
    partial = STAMP.with_suffix(".partial")
    partial.write_text(json.dumps(stamp) + "\n")
    partial.replace(STAMP)


@contextlib.contextmanager
def _locked() -> Iterator[IO[str]]:
    """Hold the lock, waiting for whoever has it. The system lets go of it when its holders end, however."""
    with LOCK.open("a+") as file:
        if not _try_lock(file):
            say("Another start is preparing the environment: waiting for it")
            while not _try_lock(file):
                time.sleep(0.2)
        file.seek(0)
        yield file


def _try_lock(file: IO[str]) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _note(lock: IO[str], state: str) -> None:
    lock.seek(0)
    lock.truncate()
    lock.write(state)
    lock.flush()
    os.fsync(lock.fileno())
