"""What is installed is what was tested: exact versions, from files whose digests are laid down.

Sources: OWASP ASVS 4.0.3, 10.3.2, 14.2.4, 14.2.5; pip's hash-checking mode.
"""

import re
from pathlib import Path

from webapp import bootstrap

ROOT = Path(__file__).parents[2]
ENTRY = re.compile(r"(?P<name>[\w.-]+)==(?P<version>[\w.]+)(?P<digests>( \\\n {4}--hash=sha256:[0-9a-f]{64})+)\n")


def test_every_pinned_package_has_the_digests_of_its_files() -> None:
    """Renewed by: python3 -m webapp.bootstrap --refresh-digests"""
    pins = [line.split("==") for line in bootstrap.PINS.read_text().splitlines() if "==" in line]
    text = "".join(line for line in bootstrap.DIGESTS.read_text().splitlines(True) if not line.startswith("#"))
    found = {bootstrap.plain(one["name"]): one["version"] for one in ENTRY.finditer(text)}
    assert ENTRY.sub("", text) == "", "nothing else stands in it, no address either"
    assert found == {bootstrap.plain(name): version for name, version in pins}


def test_everything_that_is_asked_for_is_pinned() -> None:
    asked = [*bootstrap.requirements(["test"]), "hatchling", "pip"]
    names = {bootstrap.plain(re.split(r"[^\w.-]", one)[0]) for one in asked}
    assert names <= bootstrap.pinned()


def test_no_list_of_packages_names_an_address() -> None:
    for name in ("pinned.txt", "digests.txt"):
        assert not re.search(r"https?:|//|@|--(extra-)?index|--find-links", (ROOT / "webapp" / name).read_text())
