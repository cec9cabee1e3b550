"""Papers (PDF): only looked at, so that what is no paper is not kept."""

import io
import struct

from pypdf import PdfReader
from pypdf.errors import PyPdfError

from webapp.decoding.made import Made, Refused

MOST_PAGES = 500
BROKEN = (OSError, SyntaxError, ValueError, EOFError, struct.error, OverflowError)


def paper(sent: bytes) -> Made:
    """How many pages it has. Raises Refused, MemoryError."""
    try:
        pages = len(PdfReader(io.BytesIO(sent)).pages)
    except (PyPdfError, RecursionError, KeyError, TypeError, AttributeError, NotImplementedError, *BROKEN):
        raise Refused("That PDF can't be read: it may be damaged. Send it again, or a picture of it.") from None
    if not 0 < pages <= MOST_PAGES:
        raise Refused(f"A PDF must have between 1 and {MOST_PAGES} pages.")
    return Made("paper", pages=pages)
