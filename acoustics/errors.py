"""The engine's errors: the field, the value and the limit in one line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from acoustics.saying import Saying


class InvalidInput(ValueError):
    """A value that cannot be used.

    Attributes
    ----------
    field : dotted path of the value, such as ``holes[2].diameter``
    value : what was given
    limit : the limit that it broke, in words
    """

    def __init__(self, field: str, value: object, limit: str) -> None:
        self.field = field
        self.value = value
        self.limit = limit
        super().__init__(f"{field}: {_shown(value)} is not usable: {limit}")


class CannotMeet(Exception):
    """No layout meets the limits.

    Attributes
    ----------
    nearest : the nearest layout that was found (a ``Design``)
    gave : what had to give, one sentence each (``Saying``: its lengths can be shown in any unit)
    """

    def __init__(self, nearest: Any, gave: Sequence[Saying]) -> None:
        self.nearest = nearest
        self.gave = list(gave)
        super().__init__("; ".join(map(str, self.gave)) or "no layout meets the limits")


def _shown(value: object) -> str:
    """Return the value on one line, cut short if it is long."""
    text = f"{value:g}" if isinstance(value, float) else repr(value)
    text = " ".join(text.split())
    return text if len(text) <= 80 else text[:77] + "..."
