"""A wheel and an sdist built from the checkout, the wheel installed elsewhere, and the shop opened there."""

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import sysconfig
import tarfile
import time
import urllib.request
import venv
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from email.parser import HeaderParser
from pathlib import Path

import pytest
from packaging.specifiers import SpecifierSet

from tests.durability.test_several_processes import free_port
from webapp.bootstrap import ROOT

IN_THE_APP = {
    "webapp/static/tokens.css",
    "webapp/static/icons.svg",
    "webapp/static/page.js",
    "webapp/static/guide/rack.png",
    "webapp/templates/frame/base.html",
    "webapp/templates/paper/traveler.css",
    "webapp/keeping/Containerfile",
    "migrations/env.py",
    "acoustics/py.typed",
    "webapp/py.typed",
    "seed_demo/make.py",
}


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the wheel and the sdist, made by the build backend without a network."""
    folder = tmp_path_factory.mktemp("built")
    code = "from hatchling import build; import sys; build.build_wheel(sys.argv[1]); build.build_sdist(sys.argv[1])"
    subprocess.run([sys.executable, "-c", code, str(folder)], cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    return folder


def test_wheel_and_sdist_hold_all_that_is_needed(built: Path) -> None:
    (wheel,) = built.glob("*.whl")
    assert wheel.name.endswith("-py3-none-any.whl")
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
        (about,) = (name for name in names if name.endswith(".dist-info/METADATA"))
        metadata = HeaderParser().parsestr(archive.read(about).decode())
    assert names >= IN_THE_APP
    revisions = {f"migrations/versions/{path.name}" for path in (ROOT / "migrations/versions").glob("*.py")}
    templates = {str(path.relative_to(ROOT)) for path in (ROOT / "webapp/templates").rglob("*") if path.is_file()}
    styles = {f"webapp/{path.relative_to(ROOT)}" for path in (ROOT / "static").rglob("*") if path.is_file()}
    assert revisions | templates | styles <= names
    assert not [name for name in names if name.startswith("tests/") or "__pycache__" in name]
    asked = SpecifierSet(metadata["Requires-Python"])
    assert all(version in asked for version in ("3.11.0", "3.12.0", "3.13.0")) and "3.10.9" not in asked
    (sdist,) = built.glob("*.tar.gz")
    with tarfile.open(sdist) as archive:
        held = {name.partition("/")[2] for name in archive.getnames()}
    assert {"pyproject.toml", "README.md", "static/tokens.css", "migrations/env.py", "webapp/pinned.txt"} <= held


@pytest.fixture(scope="module")
def installed(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment with the wheel in it; what the wheel needs it finds where these tests found it."""
    folder = tmp_path_factory.mktemp("installed") / "environment"
    venv.create(folder, with_pip=False)
    (wheel,) = built.glob("*.whl")
    install = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--python", str(folder), "install", "-q"]
    subprocess.run([*install, "--no-deps", "--no-index", str(wheel)], check=True)
    packages = folder / f"lib/python{sys.version_info[0]}.{sys.version_info[1]}/site-packages"
    (packages / "present.pth").write_text(sysconfig.get_path("purelib") + "\n")
    return folder


@contextmanager
def served(environment: Path, folder: Path) -> Iterator[str]:
    port = free_port()
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("FLUTEBENCH_", "PYTHONPATH"))}
    command = [str(environment / "bin/flutebench"), "serve", "--port", str(port)]
    with (folder / "log").open("w") as log:
        process = subprocess.Popen(command, cwd=folder, env=kept, stdout=log, stderr=log)
    try:
        until = time.monotonic() + 120
        while True:
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/healthz", timeout=20).close()
                break
            except OSError:
                assert time.monotonic() < until and process.poll() is None, (folder / "log").read_text()
                time.sleep(0.2)
        yield f"http://127.0.0.1:{port}"
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(60)


def test_the_first_page_opens_far_from_the_checkout(installed: Path, tmp_path: Path) -> None:
    with served(installed, tmp_path) as address:
        with urllib.request.urlopen(address, timeout=60) as answer:
            page = answer.read().decode()
        assert "Open the shop" in page
        assets = set(re.findall(r'(?:href|src)="(/(?:static|library)/[^"#]+)', page))
        assert len(assets) > 8
        for asset in assets:
            with urllib.request.urlopen(address + asset, timeout=20) as answer:
                assert answer.status == 200 and answer.read(), asset
    assert (tmp_path / "data/shop.sqlite3").exists()
    where = [
        str(installed / "bin/python"),
        "-c",
        "import webapp, acoustics; print(webapp.__file__, acoustics.__file__)",
    ]
    found = subprocess.run(where, cwd=tmp_path, capture_output=True, text=True, check=True).stdout
    assert found.count(str(installed)) == 2, "the installed program ran, not the checkout"


def test_it_says_its_version_and_completes_words(installed: Path, tmp_path: Path) -> None:
    program = str(installed / "bin/flutebench")
    said = subprocess.run([program, "--version"], cwd=tmp_path, capture_output=True, text=True, check=True).stdout
    assert re.fullmatch(r"Flutebench \d+\.\d+\.\d+\n", said)
    asked = os.environ | {"_FLUTEBENCH_COMPLETE": "complete_bash", "COMP_WORDS": "flutebench ba", "COMP_CWORD": "1"}
    done = subprocess.run([program], cwd=tmp_path, env=asked, capture_output=True, text=True, check=False).stdout
    assert done.split() == ["backup"]


def test_the_container_is_small_safe_and_whole() -> None:
    """Judged by hadolint (its rules: https://github.com/hadolint/hadolint/wiki), then what it does not know."""
    file = ROOT / "webapp/keeping/Containerfile"
    linter = shutil.which("hadolint", path=str(Path(sys.executable).parent))
    assert linter is not None
    judged = subprocess.run([linter, "--format", "json", str(file)], capture_output=True, text=True, check=False)
    assert json.loads(judged.stdout) == []
    text = file.read_text()
    stage = text.rpartition("\nFROM ")[2]
    assert stage.index("\nUSER 10001") < stage.index("\nENTRYPOINT")
    assert "\nVOLUME /data" in stage and "\nHEALTHCHECK" in stage and "/healthz" in stage
    from webapp.system_packages import PRINTING

    assert all(package in stage for package in PRINTING.packages["apt-get"])
    for copied in re.findall(r"^COPY (?!--from)(.+) \S+$", text, re.MULTILINE):
        assert all((ROOT / name).exists() for name in copied.split()), copied
