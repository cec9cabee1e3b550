"""What is sent as a picture or a paper: told by its content, measured, and made anew without what hides in it."""

import io
import re
import struct
from dataclasses import dataclass
from typing import IO

from PIL import Image, ImageCms, ImageFile, ImageOps, UnidentifiedImageError
from pypdf import PdfReader
from pypdf.errors import PyPdfError

from webapp.models import FileKind
from webapp.shop.base.errors import Invalid

FIELD = "file"
FORMATS = ["JPEG", "PNG", "WEBP"]
MOST_PIXELS = 64_000_000
LONGEST, SMALL = 2400, 480  # px of the longer side, as kept and as shown in a list
QUALITY = 85
MOST_PAGES = 500
PDF_BEGINS_WITHIN = 1024  # bytes: what readers in general allow before the header (ISO 32000-1, annex H.3)
# Pillow's own guard against pictures that are small as files and huge once unpacked.
Image.MAX_IMAGE_PIXELS = MOST_PIXELS
BROKEN = (OSError, SyntaxError, ValueError, EOFError, struct.error, OverflowError)


@dataclass(frozen=True, slots=True)
class Ready:
    """A file ready to be kept: what it is, its bytes, and for a picture a small one of it."""

    kind: FileKind
    content: bytes
    small: bytes | None
    width: int | None = None
    height: int | None = None
    pages: int | None = None


def prepare(file: IO[bytes], largest: int) -> Ready:
    """Read what was sent, at most `largest` bytes of it, and make it fit to be kept. Raises Invalid at `file`."""
    sent = file.read(largest + 1)
    if not sent:
        raise _wrong("It is empty: choose it again.")
    if len(sent) > largest:
        raise _wrong(f"It must be at most {largest / 1e6:.3g} megabytes.")
    if re.search(rb"%PDF-\d", sent[:PDF_BEGINS_WITHIN]):
        return _paper(sent)
    if sent[4:8] == b"ftyp" and sent[8:12] in (b"heic", b"heix", b"heim", b"hevc", b"mif1", b"msf1"):
        raise _wrong("That is a HEIC picture, which not every browser can show: have the phone send it as JPEG.")
    return _picture(sent)


def _wrong(words: str) -> Invalid:
    return Invalid({FIELD: words})


def _picture(sent: bytes) -> Ready:
    # The PDF library, where it is loaded too, tells Pillow to make do with half a picture.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        with Image.open(io.BytesIO(sent), formats=FORMATS) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise _wrong(f"It has too many pixels: at most {MOST_PIXELS // 1_000_000} million.")
            # A JPEG is unpacked no larger than it is kept.
            opened.draft("RGB", (LONGEST, LONGEST))
            kept = _clean(opened)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise _wrong(f"It has too many pixels: at most {MOST_PIXELS // 1_000_000} million.") from None
    except UnidentifiedImageError:
        raise _wrong("Send a picture (JPEG, PNG, WebP) or a PDF.") from None
    except BROKEN:
        raise _wrong("It can't be read to its end: it may be damaged. Take or send it again.") from None
    small = ImageOps.contain(kept, (SMALL, SMALL))
    return Ready(FileKind.PICTURE, _jpeg(kept), _jpeg(small), kept.width, kept.height)


def _clean(opened: Image.Image) -> Image.Image:
    """The picture upright, in sRGB on white, no larger than needed, and nothing but its pixels."""
    profile = opened.info.get("icc_profile")
    turned = ImageOps.exif_transpose(opened)
    if turned.width > LONGEST or turned.height > LONGEST:
        turned = ImageOps.contain(turned, (LONGEST, LONGEST))
    clear = turned.mode in ("RGBA", "LA", "PA") or "transparency" in turned.info
    coloured = turned.convert("RGBA" if clear else "RGB")
    if profile and not clear:
        coloured = _as_srgb(coloured, profile)
    clean = Image.new("RGB", coloured.size, "white")
    clean.paste(coloured, mask=coloured if clear else None)
    return clean


def _as_srgb(picture: Image.Image, profile: bytes) -> Image.Image:
    try:
        own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        made = ImageCms.profileToProfile(picture, own, ImageCms.createProfile("sRGB"), outputMode="RGB")
    except (ImageCms.PyCMSError, *BROKEN):
        return picture  # a profile that can't be used changes no pixel
    return made or picture


def _jpeg(picture: Image.Image) -> bytes:
    into = io.BytesIO()
    picture.save(into, "JPEG", quality=QUALITY, optimize=True, progressive=True)
    return into.getvalue()


def _paper(sent: bytes) -> Ready:
    try:
        pages = len(PdfReader(io.BytesIO(sent)).pages)
    except (PyPdfError, RecursionError, KeyError, TypeError, AttributeError, NotImplementedError, *BROKEN):
        raise _wrong("That PDF can't be read: it may be damaged. Send it again, or a picture of it.") from None
    if not 0 < pages <= MOST_PAGES:
        raise _wrong(f"A PDF must have between 1 and {MOST_PAGES} pages.")
    return Ready(FileKind.PAPER, sent, None, pages=pages)
