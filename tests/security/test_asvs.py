"""What asvs.toml says of each requirement is well formed, and every test that it names exists."""

import ast
import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
KINDS = {"shown_by", "by", "not_met", "does_not_apply"}
ENTRIES: list[dict[str, Any]] = tomllib.loads((HERE / "asvs.toml").read_text())["requirement"]


@cache
def functions(path: str) -> set[str]:
    """The names of the functions at the top of a file."""
    tree = ast.parse((ROOT / path).read_text())
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)}


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: entry.get("number", "without a number"))
def test_a_requirement_is_answered_in_one_way_and_the_tests_it_names_exist(entry: dict[str, Any]) -> None:
    assert re.fullmatch(r"([1-9]|1[0-4])\.[1-9]\d?\.[1-9]\d?", entry["number"])
    assert entry["level"] in (1, 2)
    assert len(KINDS & entry.keys()) == 1 and entry.keys() <= KINDS | {"number", "level", "asks"}
    assert entry["asks"].strip()
    for words in KINDS & entry.keys() - {"shown_by"}:
        assert len(entry[words].split()) > 3
    if "shown_by" in entry:
        assert entry["shown_by"]
    for test in entry.get("shown_by", []):
        path, _, name = test.partition("::")
        assert re.fullmatch(r"tests/[a-z_/]+\.py", path) and name.startswith("test_")
        assert name in functions(path), f"{test} is not there"


def test_numbers_are_there_once_and_in_order() -> None:
    numbers = [tuple(int(part) for part in entry["number"].split(".")) for entry in ENTRIES]
    assert numbers == sorted(set(numbers))
