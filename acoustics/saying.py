"""Sentences with lengths in them, to be shown in mm or in whatever unit the reader thinks in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

Show = Callable[[float], str]
"""A length in mm as text with its unit."""


def millimetres(mm: float) -> str:
    """To a hundredth, without needless zeros."""
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
        """The same with a lead before it."""
        return Saying(lead + self.words, self.lengths)

    def kept(self) -> dict[str, Any]:
        """What `again` reads back."""
        return {"words": self.words, "mm": list(self.lengths)}

    @staticmethod
    def again(kept: object) -> Saying:
        """A saying that was kept, or a plain text; a saying stays what it is."""
        if isinstance(kept, Saying):
            return kept
        if isinstance(kept, dict):
            return Saying(str(kept["words"]), tuple(float(mm) for mm in kept["mm"]))
        return Saying(str(kept).replace("{", "{{").replace("}", "}}"))
