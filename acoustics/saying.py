"""Sentences with lengths in them, to be shown in mm or in the reader's own unit."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

Show = Callable[[float], str]
"""A length in mm as text with its unit."""

# A length with its unit, in a sentence that was kept as plain text.
_MILLIMETRES = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)? mm\b")


def millimetres(mm: float) -> str:
    """To a hundredth, without trailing zeros."""
    return f"{mm:.2f}".rstrip("0").rstrip(".") + " mm"


@dataclass(frozen=True, slots=True)
class Saying:
    """`words` with {0}, {1}, ... where the `lengths` (mm) stand; as text, or as JSON, in mm."""

    words: str
    lengths: tuple[float, ...] = ()

    def text(self, show: Show = millimetres) -> str:
        """The sentence with its lengths as `show` writes them."""
        return self.words.format(*map(show, self.lengths))

    def __str__(self) -> str:
        return self.text()

    def after(self, lead: str) -> Saying:
        """The same sentence after an introduction."""
        return Saying(lead + self.words, self.lengths)

    def kept(self) -> dict[str, Any]:
        """The stored form that `again` reads back."""
        return {"words": self.words, "mm": list(self.lengths)}

    @staticmethod
    def again(kept: object) -> Saying:
        """A sentence from its stored form or from plain text; a `Saying` is returned unchanged."""
        if isinstance(kept, Saying):
            return kept
        if isinstance(kept, dict):
            return Saying(str(kept["words"]), tuple(float(mm) for mm in kept["mm"]))
        plain = str(kept).replace("{", "{{").replace("}", "}}")
        lengths = [float(found.removesuffix(" mm")) for found in _MILLIMETRES.findall(plain)]
        places = itertools.count()
        return Saying(_MILLIMETRES.sub(lambda _: f"{{{next(places)}}}", plain), tuple(lengths))
