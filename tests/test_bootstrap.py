"""Starting from a bare Python, without a network: every program that would be run is recorded instead.

The real thing, from a bare Debian to a running shop, is what .ci/run does on a new machine.
"""

import ast
import fcntl
import json
import os
import re
import subprocess
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests import __main__ as tests_main
from webapp import bootstrap, environment

STARTERS = ("webapp/__main__.py", "tests/__main__.py")
BARE = (*STARTERS, "tests/programs.py", "webapp/bootstrap.py", "webapp/environment.py", "webapp/system_packages.py")
PYPROJECT = """\
[build-system]
requires = ["hatchling"]
[project]
name = "bench"
dependencies = ["pytest>=9"]
[project.optional-dependencies]
test = ["no-such-package-anywhere>=1"]
[tool.hatch]
packages = []
"""


@dataclass
class Machine:
    """A project in a folder of its own, on a machine where running a program only makes a note of it."""

    root: Path
    commands: list[list[str]] = field(default_factory=list)
    pip_exit_code: int = 0
    said: list[str] = field(default_factory=list)

    def follow(self, command: list[object], *_rest: object) -> int:
        words = [str(word) for word in command]
        self.commands.append(words)
        if "venv" in words:
            folder = Path(words[-1])
            (folder / "bin").mkdir(parents=True, exist_ok=True)
            (folder / "bin/python").unlink(missing_ok=True)
            (folder / "bin/python").symlink_to(sys.executable)
            (folder / "pyvenv.cfg").write_text(f"version = {bootstrap.python_version()}.7\n")
        return self.pip_exit_code if "pip" in words else 0

    @property
    def steps(self) -> list[str]:
        """What was run, each in a word."""
        return [next(word for word in ("venv", "pip", "import weasyprint") if word in words) for words in self.commands]

    @property
    def stamp(self) -> dict[str, object]:
        return json.loads((self.root / ".venv/flutebench-ready.json").read_text())


@pytest.fixture
def machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Machine]:
    machine = Machine(tmp_path)
    (tmp_path / "pyproject.toml").write_text(PYPROJECT)
    (tmp_path / "pinned.txt").write_text("pytest==9.2.0\n")
    (tmp_path / "digests.txt").write_text("pip==26.3 --hash=sha256:00\npytest==9.2.0 --hash=sha256:00\n")
    places = {
        "ROOT": tmp_path,
        "PYPROJECT": tmp_path / "pyproject.toml",
        "PINS": tmp_path / "pinned.txt",
        "DIGESTS": tmp_path / "digests.txt",
        "VENV": tmp_path / ".venv",
        "VENV_PYTHON": tmp_path / ".venv/bin/python",
        "STAMP": tmp_path / ".venv/flutebench-ready.json",
        "LOCK": tmp_path / ".venv.lock",
    }
    for module in (bootstrap, environment):
        for name, value in places.items():
            if hasattr(module, name):
                monkeypatch.setattr(module, name, value)
        monkeypatch.setattr(module, "say", machine.said.append)
        monkeypatch.setattr(module, "provide", lambda _needs, _say: None)
    monkeypatch.setattr(environment, "follow", machine.follow)
    monkeypatch.setattr(environment, "_has_working_pip", (tmp_path / ".venv/bin/python").exists)
    return machine


def test_bare_modules_import_nothing_that_a_bare_python_lacks() -> None:
    for name in BARE:
        for node in ast.walk(ast.parse((bootstrap.ROOT / name).read_text())):
            modules = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            modules += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            for module in modules:
                known = module.partition(".")[0] in sys.stdlib_module_names or f"{module.replace('.', '/')}.py" in BARE
                assert known or module in {"webapp", "webapp.cli", "pytest"}, f"{name} imports {module}"


@pytest.mark.parametrize("name", STARTERS)
def test_an_old_python_gets_one_clear_line(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    source = (bootstrap.ROOT / name).read_text()
    ast.parse(source, feature_version=(3, 4))
    monkeypatch.setattr(sys, "version_info", (3, 9, 18))
    with pytest.raises(SystemExit, match=r"^Flutebench needs Python 3\.11 or newer; this is Python [^\n]*\.$"):
        exec(compile(source, name, "exec"), {"__name__": "__main__"})


def test_every_requirement_has_an_exact_pin_that_satisfies_it() -> None:
    lines = [line for line in bootstrap.PINS.read_text().splitlines() if not line.startswith("#")]
    pins = dict(line.split("==") for line in lines)
    assert all(re.fullmatch(r"[\w.-]+==[\w.]+", line) for line in lines)
    normal = {re.sub(r"[-_.]+", "-", name).lower(): version for name, version in pins.items()}
    for requirement in bootstrap.requirements(["test"]):
        asked = bootstrap.REQUIREMENT.fullmatch(requirement)
        assert asked, f"bootstrap cannot read {requirement!r} in pyproject.toml"
        pinned = normal[re.sub(r"[-_.]+", "-", asked["name"]).lower()]
        assert bootstrap.release(pinned) >= bootstrap.release(asked["least"]), requirement


@pytest.mark.parametrize(
    ("requirement", "expected"),
    [
        ("pytest", True),
        ("pytest>=9", True),
        ("pytest>=9.0.0.0", True),
        ("pytest >= 9", True),
        ("pytest[dev]>=9", True),
        ("pytest>=1000", False),
        ("no-such-package-anywhere", False),
        ("pytest ; python_version > '3'", False),
        ("pytest~=9.0", False),
    ],
)
def test_what_counts_as_installed(requirement: str, expected: bool) -> None:
    assert bootstrap.is_installed(requirement) is expected


@pytest.mark.parametrize(
    ("older", "newer"), [("1.9", "1.10"), ("1.0", "1.0.1"), ("2.0.3", "2.0.3.1"), ("1.0rc1", "1.1"), ("0", "1")]
)
def test_versions_compare_by_number(older: str, newer: str) -> None:
    assert bootstrap.release(older) < bootstrap.release(newer)
    assert bootstrap.release(f"{newer}.0") == bootstrap.release(newer)


def test_an_environment_that_has_everything_starts_at_once(machine: Machine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(subprocess, "Popen", _must_not_be_called)
    monkeypatch.setattr(os, "execv", _must_not_be_called)
    bootstrap.prepared("webapp")
    assert machine.said == []
    assert {path.name for path in machine.root.iterdir()} == {"digests.txt", "pinned.txt", "pyproject.toml"}


def test_a_bare_python_makes_the_environment_and_goes_on_in_it(
    machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    runs: list[list[str]] = []
    monkeypatch.setattr(os, "execv", lambda _path, words: (runs.append(words), sys.exit(0)))
    monkeypatch.setattr(sys, "argv", ["-m", "--x", "a b"])
    for _ in range(2):  # the second time there is nothing to make
        with pytest.raises(SystemExit):
            bootstrap.prepared("tests", ["test"])
    assert runs == [[str(machine.root / ".venv/bin/python"), "-m", "tests", "--x", "a b"]] * 2
    assert machine.steps == ["venv", *["pip"] * 3, "import weasyprint"]
    itself, checked, own = machine.commands[1:4]
    assert Path(itself[itself.index("-r") + 1]).read_text() == "pip==26.3 --hash=sha256:00\n"
    assert checked[checked.index("-c") + 1 :] == [str(machine.root / "digests.txt"), "pytest>=9", "hatchling"]
    assert own[own.index("-c") + 1] == str(machine.root / "pinned.txt")
    assert own[own.index("-e") + 1] == f"{machine.root}[test]" and "--no-build-isolation" in own


@pytest.mark.parametrize(
    ("file", "old", "new", "steps"),
    [
        ("pinned.txt", "9.2.0", "9.2.1", [*["pip"] * 3, "import weasyprint"]),
        ("digests.txt", ":00", ":01", [*["pip"] * 3, "import weasyprint"]),
        ("pyproject.toml", "pytest>=9", "pytest>=8", [*["pip"] * 3, "import weasyprint"]),
        ("pyproject.toml", "[tool.hatch]", "[tool.other]\nx = 1\n[tool.hatch]", []),
    ],
)
def test_only_what_matters_renews_the_environment(
    machine: Machine, file: str, old: str, new: str, steps: list[str]
) -> None:
    bootstrap.ensure(["test"])
    machine.commands.clear()
    path = machine.root / file
    path.write_text(path.read_text().replace(old, new))
    bootstrap.ensure([])
    assert machine.steps == steps
    assert machine.stamp["extras"] == ["test"], "an extra once installed is kept up to date too"


def test_a_further_extra_is_added(machine: Machine) -> None:
    bootstrap.ensure([])
    bootstrap.ensure(["test"])
    assert machine.steps == ["venv", *["pip"] * 3, "import weasyprint", *["pip"] * 3, "import weasyprint"]


def test_a_new_system_python_makes_the_environment_again(machine: Machine) -> None:
    bootstrap.ensure([])
    assert bootstrap.venv_is_current([])
    stamp = machine.root / ".venv/flutebench-ready.json"
    stamp.write_text(json.dumps({**machine.stamp, "python": "3.1"}))
    assert not bootstrap.venv_is_current([])


@pytest.mark.parametrize("damage", ["", "[]", "{}", '{"digest": 1}', "\x00"])
def test_a_damaged_stamp_counts_as_none(machine: Machine, damage: str) -> None:
    bootstrap.ensure([])
    (machine.root / ".venv/flutebench-ready.json").write_text(damage)
    assert not bootstrap.venv_is_current([])
    bootstrap.ensure([])
    assert bootstrap.venv_is_current([])


def test_when_pip_gives_up_the_next_start_goes_on(machine: Machine) -> None:
    machine.pip_exit_code = 1
    with pytest.raises(environment.MissingError, match="lines above"):
        bootstrap.ensure([])
    assert not bootstrap.venv_is_current([])
    machine.pip_exit_code = 0
    bootstrap.ensure([])
    assert machine.steps == ["venv", "pip", *["pip"] * 3, "import weasyprint"]


def test_when_pip_is_killed_the_next_start_begins_afresh(machine: Machine) -> None:
    machine.pip_exit_code = -9
    with pytest.raises(environment.MissingError):
        bootstrap.ensure([])
    machine.pip_exit_code = 0
    bootstrap.ensure([])
    assert machine.steps == ["venv", "pip", "venv", *["pip"] * 3, "import weasyprint"]
    assert "--clear" in machine.commands[2]
    assert any("cut short" in line for line in machine.said)


def test_starts_at_the_same_time_wait_for_each_other(machine: Machine) -> None:
    waiting = threading.Event()
    environment.say = lambda _line: waiting.set()  # put back by the fixture
    with (machine.root / ".venv.lock").open("a") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        other = threading.Thread(target=bootstrap.ensure, args=([],))
        other.start()
        assert waiting.wait(20)
        machine.follow(["venv", machine.root / ".venv"])
        environment._write_stamp([])
        machine.commands.clear()
    other.join(20)
    assert not other.is_alive()
    assert machine.commands == [], "what the first start made is good for the second"


def test_a_folder_that_cannot_be_written_is_said_plainly(machine: Machine) -> None:
    (machine.root / ".venv.lock").mkdir()
    with pytest.raises(SystemExit, match=r"could not prepare its environment in .*\.venv"):
        bootstrap.prepared("tests", ["test"])


def test_pip_s_lines_become_one_for_each_package() -> None:
    pick = environment._Collected()
    lines = [
        "Obtaining file:///bench",
        "Collecting psycopg[binary]>=3.3",
        "  Downloading psycopg-3.3.9-py3-none-any.whl (200 kB)",
        "Collecting pygments<3.0.0,>=2.13.0 (from rich)",
        "Collecting psycopg>=3.3 (from x)",
        "Installing collected packages: pygments, psycopg, bench",
    ]
    assert [picked for line in lines if (picked := pick(line))] == ["1. psycopg", "2. pygments", "unpacking 3 packages"]


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ([], ["-n", "2", "--dist", "worksteal"]),
        (["-k", "bore"], ["-n", "2", "--dist", "worksteal", "-k", "bore"]),
        (["-n0"], ["-n0"]),
        (["--pdb", "tests/shop"], ["--pdb", "tests/shop"]),
    ],
)
def test_the_suite_runs_in_two_processes_unless_told_otherwise(given: list[str], expected: list[str]) -> None:
    assert tests_main.arguments(given) == expected


def _must_not_be_called(*_arguments: object, **_more: object) -> None:
    raise AssertionError("a start that has everything runs no other program")
