"""A virus scanner reads a file before anything else does; what it finds, and what it can't look at, is not kept.

Exit codes: clamscan(1) and clamdscan(1), 'RETURN CODES': 0 nothing found, 1 found, 2 an error.
"""

import io
import sys
from collections.abc import Iterator

import pytest
from PIL import Image

from webapp.decoding import scanner
from webapp.decoding.made import Refused
from webapp.decoding.workers import Workers

MARK = b"HARMFUL"
SCANNER = [sys.executable, "-c", f"import sys; sys.exit({MARK!r} in sys.stdin.buffer.read())"]


def picture(more: bytes = b"") -> bytes:
    into = io.BytesIO()
    Image.new("RGB", (20, 10), "tan").save(into, "PNG")
    return into.getvalue() + more


@pytest.fixture
def opening() -> Iterator[Workers]:
    made = Workers(scan=SCANNER)
    yield made
    made.close()


def test_what_is_found_is_opened_by_nobody(opening: Workers) -> None:
    with pytest.raises(Refused, match="found something harmful"):
        opening.opened(picture(MARK))
    assert opening.processes() == []
    assert opening.opened(picture()).kind == "picture"


@pytest.mark.parametrize(
    "command",
    [
        ["no-such-scanner-here"],
        [sys.executable, "-c", "import sys; sys.stdin.buffer.read(); sys.exit(2)"],
        [sys.executable, "-c", "import time; time.sleep(600)"],
    ],
)
def test_a_scanner_that_fails_keeps_everything_out(command: list[str]) -> None:
    with pytest.raises(Refused, match="does not answer"):
        scanner.look_through(command, picture(), 1.0)
