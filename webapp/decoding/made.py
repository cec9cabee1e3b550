"""What becomes of a file that was sent: what it is and what is made of it, or why it is refused."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Made:
    """A picture made again with a small one, or a paper (None: it stays as it was sent) with its pages counted."""

    kind: Literal["picture", "paper"]
    content: bytes | None = None
    small: bytes | None = None
    width: int | None = None
    height: int | None = None
    pages: int | None = None


class Refused(Exception):
    """It can't be taken; the text says why, to whoever sent it."""


NEEDS_TOO_MUCH = "It is damaged, or opening it takes too much memory. Send it with fewer pixels, or as a plain JPEG."
