"""What we are made of: a bill of materials that names all of it, and a look-up of known weaknesses that can't pass by
not having looked.

Outside: the CycloneDX 1.6 schema (ECMA-424) as cyclonedx-python-lib carries it, and the OSV schema's rules for which
versions an advisory means (https://ossf.github.io/osv-schema/, field `affected`).
"""

import json
import re
import zipfile
from importlib.metadata import distributions
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from referencing import Registry, Resource

from tests.security import bill_of_materials, weaknesses
from tests.security.advisories import Advisories, answering
from webapp.bootstrap import DIGESTS, PINS, pinned, plain


def test_the_bill_of_materials_is_valid_and_lists_every_pinned_package(tmp_path: Path) -> None:
    # The tool's own validation also looks at the form of each address, and takes ten seconds for it.
    bill_of_materials.write(tmp_path / "bill.json", validate=False)
    bill = json.loads((tmp_path / "bill.json").read_text())
    schemas = files("cyclonedx.schema") / "_res"
    registry: Registry[Any] = Registry().with_resources(
        (f"http://cyclonedx.org/schema/{one.name}", Resource.from_contents(json.loads(one.read_text())))
        for one in schemas.iterdir()
        if one.name.endswith(".schema.json")
    )
    schema = json.loads((schemas / "bom-1.6.SNAPSHOT.schema.json").read_text())
    jsonschema.Draft7Validator(schema, registry=registry).validate(bill)
    listed = {f"{canonicalize_name(one['name'])}=={one['version']}" for one in bill["components"]}
    pins = [line.split("==") for line in PINS.read_text().splitlines() if "==" in line]
    assert listed == {f"{canonicalize_name(name)}=={version}" for name, version in pins}
    digests = {
        one["content"] for part in bill["components"] for ref in part["externalReferences"] for one in ref["hashes"]
    }
    assert digests == set(re.findall(r"sha256:([0-9a-f]{64})", DIGESTS.read_text()))
    assert bill["metadata"]["component"]["name"] == "flutebench"


def test_whatever_an_installed_package_asks_for_is_pinned() -> None:
    """With digests laid down, pip refuses a fresh machine one package without a version."""
    missing = {
        (one.name, str(asked))
        for one in distributions()
        for asked in map(Requirement, one.requires or [])
        if (asked.marker is None or asked.marker.evaluate({"extra": ""})) and plain(one.name) in pinned()
        if plain(asked.name) not in pinned() | {"pip", "setuptools"}
    }
    assert missing == set()


def advisory(name: str, *events: dict[str, str], **more: Any) -> str:
    part = {"package": {"name": name, "ecosystem": "PyPI"}, "ranges": [{"type": "ECOSYSTEM", "events": events}]}
    return json.dumps({"id": f"INVENTED-{name}", "summary": "Invented.", "aliases": [], "affected": [part]} | more)


@pytest.fixture
def known(tmp_path: Path) -> Advisories:
    texts = [
        advisory("Weak.One", {"introduced": "0"}, {"fixed": "2.0"}),
        advisory("again", {"introduced": "1.0"}, {"fixed": "1.2"}, {"introduced": "2.0"}, {"last_affected": "2.1"}),
        advisory("taken-back", {"introduced": "0"}, withdrawn="2026-01-01T00:00:00Z"),
        json.dumps(
            {
                "id": "INVENTED-2",
                "affected": [{"package": {"name": "listed", "ecosystem": "PyPI"}, "versions": ["1.0"]}],
            }
        ),
        advisory("weak-one", {"introduced": "0"}).replace("PyPI", "npm"),
    ]
    with zipfile.ZipFile(tmp_path / "all.zip", "w") as held:
        for n, text in enumerate(texts):
            held.writestr(f"{n}.json", text)
    return Advisories(tmp_path / "all.zip")


@pytest.mark.parametrize(
    ("name", "version", "weak"),
    [
        ("weak-one", "1.9", True), ("weak_one", "2.0", False), ("weak-one", "2.0rc1", True), ("weak-one", "0", True),
        ("again", "0.9", False), ("again", "1.0", True), ("again", "1.2", False), ("again", "1.10", False),
        ("again", "2.1", True), ("again", "2.1.1", False),
        ("taken-back", "1.0", False), ("listed", "1.0.0", True), ("listed", "1.1", False), ("unknown", "1.0", False),
    ],
)  # fmt: skip
def test_an_advisory_means_these_versions(known: Advisories, name: str, version: str, weak: bool) -> None:
    assert bool(known.about(name, version)) == weak


def test_the_look_up_tells_what_is_weak_and_what_was_not_looked_up(known: Advisories, tmp_path: Path) -> None:
    weak, well = tmp_path / "weak.txt", tmp_path / "well.txt"
    weak.write_text("# pins\nweak-one==1.0\nlisted==1.1\n")
    well.write_text("weak-one==2.0\nlisted==1.1\n")
    with answering(known) as service:
        code, said = weaknesses.audit(weak, service)
        assert code == weaknesses.FOUND
        assert "weak-one 1.0: INVENTED-Weak.One" in said
        assert "2 of 2 pinned packages looked up: 1 known" in said
        assert weaknesses.audit(well, service) == (0, "2 of 2 pinned packages looked up: 0 known weaknesses")
    # The service has ended: nobody may take this for an all-clear.
    code, said = weaknesses.audit(weak, service, seconds=1)
    assert code == weaknesses.NOT_ASKED
    assert said.startswith("NOTHING WAS LOOKED UP")


def test_a_folder_without_advisories_is_no_all_clear(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for named in (tmp_path, tmp_path / "nothing.zip"):
        monkeypatch.setattr("sys.argv", ["weaknesses", "--advisories", str(named)])
        assert weaknesses.main() == weaknesses.NOT_ASKED
        assert "NOTHING WAS LOOKED UP" in capsys.readouterr().out
