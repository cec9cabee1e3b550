"""The list in asvs/ is whole, each requirement is answered in one way, and every test and file that it names exists."""

import ast
import re
from collections import Counter
from functools import cache
from pathlib import Path

from tests.security.requirements import FIELDS, requirements, told

ROOT = Path(__file__).parents[2]
# How many requirements of each chapter have level 1, and level 1 or 2: counted in the standard's own table of 4.0.3
# (OWASP, October 2021), without those that it says are deleted and those of level 3 alone; 2.8.7, which level 2 leaves
# open, and 2.10.1 to 2.10.4, which it wants with the system's help, are among them.
PUBLISHED = {
    1: (0, 38), 2: (27, 53), 3: (12, 18), 4: (8, 9), 5: (27, 30), 6: (1, 13), 7: (3, 12),
    8: (7, 15), 9: (3, 7), 10: (3, 5), 11: (5, 8), 12: (11, 15), 13: (6, 13), 14: (15, 23),
}  # fmt: skip
ALL = requirements()


@cache
def names_in(path: str) -> set[str]:
    """The tests at the top of a file, as pytest would collect them."""
    tree = ast.parse((ROOT / path).read_text())
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")}


def test_every_requirement_of_both_levels_is_there_once_and_in_order() -> None:
    numbers = [tuple(map(int, one.number.split("."))) for one in ALL]
    assert numbers == sorted(set(numbers))
    assert all(one.file.startswith(f"v{one.chapter:02}_") for one in ALL)
    first = Counter(one.chapter for one in ALL if one.said["level"] == 1)
    both = Counter(one.chapter for one in ALL)
    assert {chapter: (first[chapter], both[chapter]) for chapter in both} == PUBLISHED
    assert {one.said["level"] for one in ALL} == {1, 2}


def test_each_is_answered_in_one_way_with_a_reason() -> None:
    print(told())
    for one in ALL:
        assert one.said.keys() <= FIELDS, one.number
        words = [
            one.said["asks"],
            *(one.said[key] for key in ("how", "unmet", "not_for_us", "note") if key in one.said),
        ]
        for text in words:
            assert isinstance(text, str) and re.fullmatch(r"[A-Z0-9].*[.]", text) and len(text.split()) > 2, one.number
        assert one.way in ("tests", "how", "not_for_us", "unmet")
        assert ("where" in one.said) == (one.way == "how"), one.number


def test_what_it_names_exists() -> None:
    for one in ALL:
        named = one.said.get("tests", [])
        assert isinstance(named, list) and (named or one.way != "tests"), one.number
        for test in named:
            path, _, name = test.partition("::")
            assert re.fullmatch(r"tests/[a-z_/]*test_[a-z_]+\.py", path), test
            assert name in names_in(path), f"{one.number}: {test} is not there"
        files = one.said.get("where", [])
        assert isinstance(files, list) and (files or one.way != "how")
        for file in files:
            assert (ROOT / file).is_file(), f"{one.number}: {file} is not there"
