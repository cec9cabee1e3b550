"""Pictures: measured before they are unpacked, and made again without what hides in them."""

import io
import struct

from PIL import Image, ImageCms, ImageFile, ImageOps, UnidentifiedImageError

from webapp.decoding.made import NEEDS_TOO_MUCH, Made, Refused

FORMATS = ["JPEG", "PNG", "WEBP"]
MOST_PIXELS = 64_000_000
MOST_UNPACKED = 100_000_000  # bytes of its pixels in memory: 25 million of a coloured picture that is no JPEG
LARGE = 12_000_000  # pixels: one that can't be read may also have met the limit on memory
LONGEST, SMALL = 2400, 480  # px of the longer side, as kept and as shown in a list
QUALITY = 85
# Pillow's own guard against pictures that are small as files and huge once unpacked.
Image.MAX_IMAGE_PIXELS = MOST_PIXELS
BROKEN = (OSError, SyntaxError, ValueError, EOFError, struct.error, OverflowError)
_BYTES = {"1": 1, "L": 1, "P": 1, "I;16": 2}  # of one pixel in Pillow's memory, in its modes; 4 in all others


def picture(sent: bytes) -> Made:
    """The picture as it is kept, and a small one of it. Raises Refused, MemoryError."""
    # The PDF library, where it is loaded too, tells Pillow to make do with half a picture.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    pixels = 0
    try:
        with Image.open(io.BytesIO(sent), formats=FORMATS) as opened:
            pixels = opened.width * opened.height
            _measure(pixels, MOST_PIXELS)
            # A JPEG is unpacked no larger than it is kept.
            opened.draft("RGB", (LONGEST, LONGEST))
            each = _BYTES.get(opened.mode, 4)
            _measure(opened.width * opened.height * each, MOST_UNPACKED, each)
            kept = _clean(opened)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise _too_many(MOST_PIXELS) from None
    except UnidentifiedImageError:
        raise Refused("Send a picture (JPEG, PNG, WebP) or a PDF.") from None
    except BROKEN as error:
        if "memory" in str(error) or pixels > LARGE:
            raise Refused(NEEDS_TOO_MUCH) from None
        raise Refused("It can't be read to its end: it may be damaged. Take or send it again.") from None
    small = ImageOps.contain(kept, (SMALL, SMALL))
    return Made("picture", _jpeg(kept), _jpeg(small), kept.width, kept.height)


def _measure(found: int, most: int, each: int = 1) -> None:
    if found > most:
        raise _too_many(most // each)


def _too_many(most: int) -> Refused:
    return Refused(f"It has too many pixels: at most {most // 1_000_000} million.")


def _clean(opened: Image.Image) -> Image.Image:
    """The picture upright, in sRGB on white, no larger than needed, and nothing but its pixels."""
    profile = opened.info.get("icc_profile")
    fits = opened.width <= LONGEST and opened.height <= LONGEST
    # Made smaller first: what follows makes copies.
    turned = ImageOps.exif_transpose(opened if fits else ImageOps.contain(opened, (LONGEST, LONGEST)))
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
