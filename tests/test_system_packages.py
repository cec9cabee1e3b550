"""What the operating system lacks: installed where that is allowed, otherwise the line to run is told."""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from webapp import system_packages
from webapp.system_packages import MissingError, Need, follow, how_to_get, provide

APT = ["env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-q", "-o", "DPkg::Lock::Timeout=300"]
INSTALL = [*APT, "install", "-y", "--no-install-recommends", "kiln", "anvil"]
UPDATE = [*APT, "update"]
CONFIGURE = ["env", "DEBIAN_FRONTEND=noninteractive", "dpkg", "--configure", "-a"]


class Debian:
    """A Debian that only notes what is run on it. `good_from` is the attempt at installing that works."""

    def __init__(self, good_from: int = 1) -> None:
        self.commands: list[list[str]] = []
        self.good_from = good_from
        self.installed = False

    def follow(self, command: list[str], *_rest: object) -> int:
        self.commands.append(list(command))
        if "install" not in command:
            return 0
        self.installed = sum("install" in words for words in self.commands) >= self.good_from
        return 0 if self.installed else 100

    @property
    def needs(self) -> list[Need]:
        kiln = Need("a kiln", lambda: self.installed, {"apt-get": ["kiln"], "dnf": ["kiln-tools"]}, "Any kiln will do.")
        return [kiln, Need("an anvil", lambda: self.installed, {"apt-get": ["anvil"]}), Need("air", lambda: True)]


@pytest.fixture
def programs(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    def only(*names: str) -> None:
        monkeypatch.setattr(shutil, "which", lambda name: f"/bin/{name}" if name in names else None)

    return only


@pytest.fixture
def debian(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, programs: Callable[..., None]) -> Debian:
    debian = Debian()
    (tmp_path / "mirror_main_Packages.lz4").touch()
    monkeypatch.setattr(system_packages, "APT_LISTS", tmp_path)
    monkeypatch.setattr(system_packages, "follow", debian.follow)
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    programs("apt-get")
    return debian


def test_nothing_is_run_where_nothing_is_missing(debian: Debian) -> None:
    provide([Need("air", lambda: True, {"apt-get": ["air"]})], print)
    assert debian.commands == []


def test_root_installs_what_is_missing(debian: Debian) -> None:
    provide(debian.needs, print)
    assert debian.commands == [INSTALL]


def test_the_list_of_packages_is_fetched_where_there_is_none(debian: Debian, tmp_path: Path) -> None:
    (tmp_path / "mirror_main_Packages.lz4").unlink()
    provide(debian.needs, print)
    assert debian.commands == [CONFIGURE, UPDATE, INSTALL]


def test_an_old_list_of_packages_is_fetched_again(debian: Debian) -> None:
    debian.good_from = 2
    provide(debian.needs, print)
    assert debian.commands == [INSTALL, CONFIGURE, UPDATE, INSTALL]


def test_when_installing_fails_the_line_is_told(debian: Debian) -> None:
    debian.good_from = 9
    with pytest.raises(MissingError, match="install -y --no-install-recommends kiln anvil"):
        provide(debian.needs, print)


@pytest.mark.parametrize(("sudo_exit_code", "expected"), [(0, [["sudo", "-n", *INSTALL]]), (1, [])])
def test_others_install_by_sudo_if_it_asks_no_password(
    debian: Debian,
    programs: Callable[..., None],
    monkeypatch: pytest.MonkeyPatch,
    sudo_exit_code: int,
    expected: list[list[str]],
) -> None:
    programs("apt-get", "sudo")
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    monkeypatch.setattr(subprocess, "run", lambda words, **_: subprocess.CompletedProcess(words, sudo_exit_code))
    if expected:
        provide(debian.needs, print)
    else:
        with pytest.raises(MissingError):
            provide(debian.needs, print)
    assert debian.commands == expected


@pytest.mark.parametrize("manager", system_packages.MANAGERS)
def test_every_package_manager_has_its_line_for_printing(manager: str) -> None:
    told = how_to_get([system_packages.PRINTING], manager)
    line = f"{system_packages.MANAGERS[manager]} {' '.join(system_packages.PRINTING.packages[manager])}"
    assert told.splitlines()[0].startswith("This machine lacks the libraries for printing")
    assert f"    {line}" in told.splitlines()


def test_without_a_known_package_manager_the_place_to_look_is_told(
    debian: Debian, programs: Callable[..., None]
) -> None:
    programs()
    with pytest.raises(MissingError) as told:
        provide(debian.needs, print)
    assert "This machine lacks a kiln." in str(told.value)
    assert "Any kiln will do." in str(told.value)
    assert "Run this line" not in str(told.value)
    assert "First Steps" in how_to_get([system_packages.PRINTING], None)


def test_a_package_is_named_only_to_the_manager_that_has_it(debian: Debian) -> None:
    told = how_to_get(debian.needs[:2], "dnf")
    assert "    sudo dnf install kiln-tools" in told.splitlines()
    assert "This machine lacks an anvil." in told


def test_the_libraries_are_looked_for_under_the_names_that_weasyprint_loads() -> None:
    weasyprint_ffi = pytest.importorskip("weasyprint.text.ffi")
    source = Path(weasyprint_ffi.__file__).read_text()
    for name, version in system_packages.LIBRARIES.items():
        assert f"lib{name}.so.{version}'" in source
    assert system_packages.libraries_load()


def test_a_program_s_lines_are_picked_from(capfd: pytest.CaptureFixture[str]) -> None:
    said: list[str] = []
    program = "import sys; print('one'); print('two', file=sys.stderr); print(repr(sys.stdin.read()))"
    code = follow(
        [sys.executable, "-u", "-c", program], said.append, lambda line: line.strip() if "o" in line else None
    )
    assert (code, said) == (0, ["  one", "  two"])
    assert capfd.readouterr() == ("", "")


def test_a_failing_program_s_last_lines_are_told() -> None:
    said: list[str] = []
    program = "import sys; [print('line', n) for n in range(50)]; sys.exit(3)"
    assert follow([sys.executable, "-c", program], said.append, lambda _: None) == 3
    assert said[0].startswith("This failed with exit code 3")
    assert said[1] == "  | line 30"
    assert said[-1] == "  | line 49"


def test_a_program_can_be_given_a_file_to_hold(tmp_path: Path) -> None:
    with (tmp_path / "lock").open("w") as file:
        probe = [sys.executable, "-c", f"import os; os.fstat({file.fileno()})"]
        assert follow(probe, print, lambda _: None, [file.fileno()]) == 0
        assert follow(probe, lambda _: None, lambda _: None) == 1
