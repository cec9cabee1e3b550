"""From a bare Python to a running Flutebench. Standard library only, since nothing else is there yet.

`prepared("webapp")` returns at once in an environment that has everything. Otherwise it makes `.venv` in the
project's folder, with the tested versions (pinned.txt) from files that are still the same (digests.txt), adds the
system's packages, and runs the same command again in there. By hand: `python3 -m webapp.bootstrap --help`.
"""

import hashlib
import json
import os
import re
import sys
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, NoReturn

from webapp.system_packages import PRINTING, MissingError, Need, provide

ROOT: Path = Path(__file__).resolve().parent.parent
PYPROJECT = ROOT / "pyproject.toml"
PINS = ROOT / "webapp" / "pinned.txt"
DIGESTS = ROOT / "webapp" / "digests.txt"
VENV = ROOT / ".venv"
VENV_PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
STAMP = VENV / "flutebench-ready.json"

REQUIREMENT = re.compile(r"(?P<name>[\w.-]+)(\[[\w,.-]+\])?(>=(?P<least>[\d.]+))?")


def prepared(module: str, extras: Sequence[str] = (), needs: Sequence[Need] = ()) -> None:
    """Return in an environment that has the packages (with `extras`) and the system's part (with `needs`).

    Where this Python is not such an environment, the process goes on as `python -m module` in one that is.
    Where something cannot be had, the process ends with a message that says what a person can do.
    """
    if not PYPROJECT.exists():
        return  # installed as a package: whoever did that saw to the rest
    _help_macos_find_homebrew()
    try:
        if this_python_suits(extras):
            provide([PRINTING, *needs], say)
            return
        ensure(extras, needs)
    except MissingError as missing:
        sys.exit(f"{missing}\n")
    except OSError as error:
        sys.exit(f"Flutebench could not prepare its environment in {VENV}: {error}")
    except KeyboardInterrupt:
        sys.exit("\nStopped. The next start goes on from here.")
    _go_on_as(module)


def ensure(extras: Sequence[str], needs: Sequence[Need] = ()) -> None:
    """See that `.venv` and the system have everything. Raises MissingError where a person has to act."""
    if venv_is_current(extras):
        provide([PRINTING, *needs], say)
    else:
        from webapp.environment import make  # the larger part, seldom needed

        make(extras, [PRINTING, *needs])


def this_python_suits(extras: Iterable[str]) -> bool:
    """Whether this process can run the project: in `.venv`, or where somebody else installed everything."""
    if Path(sys.prefix).resolve() == VENV.resolve() and STAMP.exists():
        return venv_is_current(extras)
    return all(is_installed(requirement) for requirement in requirements(extras))


def venv_is_current(extras: Iterable[str]) -> bool:
    """Whether `.venv` was finished, with these extras, from the present pins and requirements."""
    stamp = read_stamp()
    if stamp.get("digest") != digest() or not set(extras) <= set(stamp["extras"]) or not VENV_PYTHON.exists():
        return False
    # The system's Python may have been replaced by a newer one, which would not see the packages.
    same_python = VENV_PYTHON.resolve() == Path(sys.executable).resolve()
    return not same_python or stamp["python"] == python_version()


def read_stamp() -> dict[str, Any]:
    """What was noted when `.venv` was finished: digest, extras, python; empty if it was not."""
    try:
        stamp = json.loads(STAMP.read_text())
    except (OSError, ValueError):
        return {}
    return stamp if isinstance(stamp, dict) and {"digest", "extras", "python"} <= stamp.keys() else {}


def digest() -> str:
    """A digest of what decides the contents of `.venv`. Settings of tools in pyproject.toml do not."""
    table = read_pyproject()
    decisive = [table["project"], table["build-system"], table["tool"].get("hatch")]
    files = PINS.read_bytes() + DIGESTS.read_bytes()
    return hashlib.sha256(json.dumps(decisive, sort_keys=True).encode() + files).hexdigest()


def requirements(extras: Iterable[str]) -> Iterator[str]:
    """The packages that pyproject.toml asks for, as it writes them."""
    project = read_pyproject()["project"]
    yield from project["dependencies"]
    for extra in extras:
        yield from project["optional-dependencies"][extra]


def pinned() -> set[str]:
    """The names of the packages whose versions and files are laid down, as the package index compares names."""
    lines = PINS.read_text(encoding="utf-8").splitlines()
    return {plain(line.partition("==")[0]) for line in lines if "==" in line and not line.startswith("#")}


def plain(name: str) -> str:
    """A package's name as it is compared (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def read_pyproject() -> dict[str, Any]:
    return tomllib.loads(PYPROJECT.read_text(encoding="utf-8"))


def is_installed(requirement: str) -> bool:
    """Whether this Python has the package, at least as new as asked; False for what we cannot read."""
    import importlib.metadata  # a third of this module's own start-up time, and seldom needed

    asked = REQUIREMENT.fullmatch(requirement.replace(" ", ""))
    if asked is None:
        return False
    try:
        found = importlib.metadata.version(asked["name"])
    except importlib.metadata.PackageNotFoundError:
        return False
    return release(found) >= release(asked["least"] or "0")


def release(version: str) -> list[int]:
    """The numbers of a version, to compare: a pre-release counts as its release, closing zeros not at all."""
    numbers = [int(number) for number in re.findall(r"\d+", re.split(r"[^\d.]", version)[0])]
    while numbers and numbers[-1] == 0:
        numbers.pop()
    return numbers


def python_version() -> str:
    return f"{sys.version_info[0]}.{sys.version_info[1]}"


def say(line: str) -> None:
    """Tell the person what goes on, apart from what the command itself will print."""
    sys.stderr.write(line + "\n")
    sys.stderr.flush()


def _help_macos_find_homebrew() -> None:
    """Python's search for libraries on macOS leaves out Homebrew's folder on Apple's own processors."""
    if sys.platform == "darwin":
        os.environ.setdefault("DYLD_FALLBACK_LIBRARY_PATH", "/opt/homebrew/lib:/usr/local/lib:/usr/lib")


def _go_on_as(module: str) -> NoReturn:
    command = [str(VENV_PYTHON), "-m", module, *sys.argv[1:]]
    sys.stdout.flush()
    if sys.platform == "win32":  # there execv returns to the prompt at once, with the program still running
        import subprocess

        sys.exit(subprocess.call(command))
    os.execv(command[0], command)  # noqa: S606  no shell is meant


if __name__ == "__main__":
    from webapp.environment import main

    main()
