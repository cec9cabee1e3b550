"""The examples in the engine's docstrings give what they say."""

import doctest
import importlib
from pathlib import Path

import acoustics

ROOT = Path(acoustics.__file__).parent


def test_every_example_gives_what_it_says() -> None:
    modules = [path for path in sorted(ROOT.rglob("*.py")) if ">>> " in path.read_text()]
    assert ROOT / "__init__.py" in modules
    for path in modules:
        name = ".".join(("acoustics", *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(".__init__")
        found = doctest.testmod(importlib.import_module(name))
        assert (found.failed, found.attempted > 0) == (0, True), name
