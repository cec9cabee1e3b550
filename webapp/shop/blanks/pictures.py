"""What is sent as a picture or a paper, made fit to be kept; it is opened elsewhere (webapp/decoding)."""

from dataclasses import dataclass
from typing import IO

from webapp.decoding import made
from webapp.decoding.workers import Busy, Opens
from webapp.models import FileKind
from webapp.shop.base.errors import Invalid, Refused

FIELD = "file"


@dataclass(frozen=True, slots=True)
class Ready:
    """A file ready to be kept: what it is, its bytes, and for a picture a small one of it."""

    kind: FileKind
    content: bytes
    small: bytes | None
    width: int | None = None
    height: int | None = None
    pages: int | None = None


def prepare(file: IO[bytes], largest: int, workers: Opens) -> Ready:
    """Read what was sent, at most `largest` bytes of it, and make it fit to be kept.

    Raises Invalid at `file`, and Refused where too much is sent at once.
    """
    sent = file.read(largest + 1)
    if not sent:
        raise Invalid({FIELD: "It is empty: choose it again."})
    if len(sent) > largest:
        raise Invalid({FIELD: f"It must be at most {largest / 1e6:.3g} megabytes."})
    try:
        found = workers.opened(sent)
    except made.Refused as refused:
        raise Invalid({FIELD: str(refused)}) from None
    except Busy:
        raise Refused("Other pictures are being made ready. Send it again in a moment.") from None
    kind = FileKind.PICTURE if found.kind == "picture" else FileKind.PAPER
    content = sent if found.content is None else found.content
    return Ready(kind, content, found.small, found.width, found.height, found.pages)
