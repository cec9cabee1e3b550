"""A file told by its content, never by its name."""

import re

from webapp.decoding.made import NEEDS_TOO_MUCH, Made, Refused
from webapp.decoding.papers import paper
from webapp.decoding.pictures import picture

PDF_BEGINS_WITHIN = 1024  # bytes: what readers in general allow before the header (ISO 32000-1, annex H.3)
HEIC = (b"heic", b"heix", b"heim", b"hevc", b"mif1", b"msf1")


def opened(sent: bytes) -> Made:
    """What is made of it. Raises Refused."""
    try:
        if re.search(rb"%PDF-\d", sent[:PDF_BEGINS_WITHIN]):
            return paper(sent)
        if sent[4:8] == b"ftyp" and sent[8:12] in HEIC:
            raise Refused("That is a HEIC picture, which not every browser can show: have the phone send it as JPEG.")
        return picture(sent)
    except MemoryError:
        raise Refused(NEEDS_TOO_MUCH) from None
