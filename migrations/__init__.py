"""Schema changes, one file each in versions/, applied in order at start-up."""

from typing import Any

FULL_TEXT = "search_words"


def ours(_object: Any, name: str | None, _kind: str, _reflected: bool, _compared: Any) -> bool:
    """Whether the models know of it: what the full-text index consists of is made by revision 0003 alone."""
    return not (name or "").startswith(FULL_TEXT)
