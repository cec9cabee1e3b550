"""What Flutebench needs from the operating system, and how to get it there. Standard library only.

On Debian and its relatives missing packages are installed where that is allowed (as root, or by sudo without
a password). Everywhere else, and where it is not allowed, the caller gets the exact line for a person to run.
"""

import ctypes
import importlib.util
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

Say = Callable[[str], None]

APT_LISTS = Path("/var/lib/apt/lists")
TAIL_LINES = 20


class MissingError(Exception):
    """The machine lacks something that we may not install; the message says what a person can do."""


@dataclass(frozen=True)
class Need:
    """One thing the operating system must have, and its packages by package manager."""

    what: str
    is_there: Callable[[], bool]
    packages: Mapping[str, Sequence[str]] = field(default_factory=dict)
    help: str = ""


# What a person types, by the program that shows that the manager is there.
MANAGERS = {
    "apt-get": "sudo apt-get update && sudo apt-get install -y --no-install-recommends",
    "dnf": "sudo dnf install",
    "zypper": "sudo zypper install",
    "pacman": "sudo pacman -S --needed",
    "apk": "sudo apk add",
    "brew": "brew install",
}

# What WeasyPrint 70 loads; its documentation, 'First Steps', names the packages.
LIBRARIES = {
    "gobject-2.0": 0,
    "pango-1.0": 0,
    "pangoft2-1.0": 0,
    "harfbuzz": 0,
    "harfbuzz-subset": 0,
    "fontconfig": 1,
}


def libraries_load() -> bool:
    """Whether the libraries behind PDF printing can be loaded; True where only WeasyPrint itself can tell."""
    return loadable([f"lib{name}.so.{version}" for name, version in LIBRARIES.items()])


def loadable(files: Iterable[str]) -> bool:
    """Whether the system's loader finds all these library files of Linux; True on other systems, unasked."""
    if sys.platform != "linux":
        return True
    try:
        for file in files:
            ctypes.CDLL(file)
    except OSError:
        return False
    return True


def has_ensurepip() -> bool:
    """Whether a virtual environment can be made: Debian's python3 leaves that part to a package."""
    return importlib.util.find_spec("ensurepip") is not None


PRINTING = Need(
    "the libraries for printing PDF (Pango, HarfBuzz, Fontconfig)",
    libraries_load,
    {
        "apt-get": ["libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0", "libfontconfig1"],
        "dnf": ["pango", "harfbuzz", "fontconfig"],
        "zypper": ["libpango-1_0-0", "libharfbuzz-subset0", "libfontconfig1"],
        "pacman": ["pango", "harfbuzz", "fontconfig"],
        "apk": ["pango", "harfbuzz-subset", "fontconfig", "font-dejavu"],
        "brew": ["pango"],
    },
    "WeasyPrint's documentation says how to install them: its page 'First Steps', under 'Installation'.",
)
ENSUREPIP = Need(
    "the part of Python that makes virtual environments (venv, ensurepip)",
    has_ensurepip,
    {"apt-get": [f"python{sys.version_info[0]}.{sys.version_info[1]}-venv"]},
    "Any complete Python 3.11 or newer will do.",
)


def provide(needs: Iterable[Need], say: Say) -> None:
    """See that every need is met, installing what is missing where that is allowed.

    Raises MissingError, with the line to run, where it is not allowed or did not work.
    """
    missing = _unmet(needs)
    if not missing:
        return
    manager = present_manager()
    if manager == "apt-get" and (prefix := _right_to_install()) is not None:
        packages = _packages(missing, manager)
        if packages and _apt_install(prefix, packages, say):
            missing = _unmet(missing)
    if missing:
        raise MissingError(how_to_get(missing, manager))


def how_to_get(missing: Sequence[Need], manager: str | None) -> str:
    """What a person is told: what is missing, and the line to run or the place to look."""
    lines = [f"This machine lacks {need.what}." for need in missing]
    if manager and (packages := _packages(missing, manager)):
        lines += ["Run this line, then start again:", "", f"    {MANAGERS[manager]} {' '.join(packages)}", ""]
        lines += ["Should that not work:"]
    return "\n".join(lines + [need.help for need in missing if need.help])


def present_manager() -> str | None:
    """The package manager of this machine, if it is one that we know."""
    return next((name for name in MANAGERS if shutil.which(name)), None)


def follow(command: Sequence[str | Path], say: Say, pick: Callable[[str], str | None], keep: Sequence[int] = ()) -> int:
    """Run a command without input, saying what `pick` makes of each line it prints; return its exit code.

    When it fails, the end of its output is said whole. `keep` are file descriptors that it is to hold too.
    """
    tail: list[str] = []
    words = [str(word) for word in command]
    with subprocess.Popen(
        words,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        pass_fds=tuple(keep),
    ) as process:
        assert process.stdout is not None
        for line in process.stdout:
            tail = [*tail, line.rstrip()][-TAIL_LINES:]
            if picked := pick(line):
                say(f"  {picked}")
    if process.returncode:
        say(f"This failed with exit code {process.returncode}: {' '.join(words)}")
        for line in tail:
            say(f"  | {line}")
    return process.returncode


def _unmet(needs: Iterable[Need]) -> list[Need]:
    return [need for need in needs if not need.is_there()]


def _packages(needs: Iterable[Need], manager: str) -> list[str]:
    return [package for need in needs for package in need.packages.get(manager, ())]


def _right_to_install() -> list[str] | None:
    """What to put before apt-get, or None where we may not use it."""
    if os.geteuid() == 0:
        return []
    if shutil.which("sudo"):
        ask = ["sudo", "-n", "true"]
        asked = subprocess.run(ask, capture_output=True, stdin=subprocess.DEVNULL, check=False)
        if asked.returncode == 0:
            return ["sudo", "-n"]
    return None


def _apt_install(prefix: list[str], packages: list[str], say: Say) -> bool:
    """Install packages; where the list of packages is absent or out of date, fetch it and try once more."""
    quiet = [*prefix, "env", "DEBIAN_FRONTEND=noninteractive"]
    apt = [*quiet, "apt-get", "-q", "-o", "DPkg::Lock::Timeout=300"]
    install = [*apt, "install", "-y", "--no-install-recommends", *packages]
    say(f"Installing system packages: {' '.join(packages)}")
    if any(APT_LISTS.glob("*_Packages*")) and follow(install, say, _apt_progress) == 0:
        return True
    follow([*quiet, "dpkg", "--configure", "-a"], say, _apt_progress)  # in case an earlier run was cut short
    say("Fetching the list of system packages")
    return follow([*apt, "update"], say, lambda _line: None) == 0 and follow(install, say, _apt_progress) == 0


def _apt_progress(line: str) -> str | None:
    return line.partition(" (")[0].strip().lower() if line.startswith("Setting up ") else None
