"""Files that are small to send and large to open, made here from their formats' own rules.

Sources: PNG, third edition (W3C, 2025), 11.2.1 (header) and 11.3.2 (colour profile); ISO 32000-1, 7.5.7 and 7.5.8
(streams of objects and of cross-references); ISO/IEC 14496-12, 8.7.3.2 (sample sizes); RFC 9639, 8.2 (FLAC's header).
"""

import io
import struct
import tempfile
import zlib
from pathlib import Path

import numpy as np
from PIL import Image

from tests.acoustics.listening import recordings
from tests.security.test_bombs import pdf_that_unpacks_to

RATE = 48_000


def pictures() -> dict[str, bytes]:
    """Pictures by what is bad about them."""
    jpeg = io.BytesIO()
    Image.new("RGB", (7900, 7900), "tan").save(jpeg, "JPEG", progressive=True, subsampling=0)
    webp = io.BytesIO()
    Image.new("RGBA", (7900, 7900), (200, 100, 50, 128)).save(webp, "WEBP", lossless=True, quality=0, method=0)
    return {
        "PNG of 63 Mpx, clear": png(7900, 7900, 6),
        "PNG of 63 Mpx, 16 bits a channel": png(7900, 7900, 6, depth=16),
        "PNG of 31 Mpx, clear, turned": png(5600, 5600, 6, turned=True),
        "PNG that claims 10^9 px": png(31_000, 31_000, 6, rows=10),
        "PNG with a profile of 400 MB": png(100, 100, 2, profile=400),
        "WebP of 62 Mpx, clear": webp.getvalue(),
        "JPEG of 62 Mpx, progressive": jpeg.getvalue(),
    }


def png(
    width: int, height: int, kind: int, depth: int = 8, rows: int = 0, turned: bool = False, profile: int = 0
) -> bytes:
    """A PNG of one colour; `rows`: how many are really there; `profile`: megabytes of its packed profile."""
    channels = {2: 3, 6: 4}[kind]
    row = b"\0" + b"\x40\x80\xa0\x60"[:channels] * (width * depth // 8)
    packer = zlib.compressobj(9)
    data = b"".join(packer.compress(row) for _ in range(rows or height)) + packer.flush()
    made = b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, kind, 0, 0, 0))
    if profile:
        packer = zlib.compressobj(9)
        packed = b"".join(packer.compress(bytes(1 << 20)) for _ in range(profile)) + packer.flush()
        made += _chunk(b"iCCP", b"name\0\0" + packed)
    if turned:
        exif = Image.Exif()
        exif[0x0112] = 6
        made += _chunk(b"eXIf", exif.tobytes()[6:])
    return made + _chunk(b"IDAT", data) + _chunk(b"IEND", b"")


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def papers() -> dict[str, bytes]:
    """PDFs by what is bad about them."""
    leaves = b"".join(b"%d 0 obj<</Type/Page/Parent 2 0 R>>endobj\n" % n for n in range(3, 120_000))
    kids = b" ".join(b"%d 0 R" % n for n in range(3, 120_000))
    head = b"%PDF-1.7\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n"
    pages = b"2 0 obj<</Type/Pages/Count 119997/Kids[" + kids + b"]>>endobj\n" + leaves
    return {
        "PDF whose table unpacks to 200 MB": pdf_that_unpacks_to(200, packed_twice=False),
        "PDF with objects that unpack to 60 MB": pdf_of_packed_objects(60),
        "PDF of 120,000 pages": head + pages + b"trailer<</Root 1 0 R/Size 120000>>\n%%EOF",
    }


def pdf_of_packed_objects(megabytes: int) -> bytes:
    """A PDF whose catalog lies in a stream of objects that is huge once unpacked."""
    inside = b"1 0 2 60 " + b"<</Type/Catalog/Pages 2 0 R>>".ljust(60) + b"<</Type/Pages/Count 1/Kids["
    inside += b"[]" * (megabytes << 19) + b"]>>"
    stream = zlib.compress(inside, 9)
    head = b"%PDF-1.7\n"
    objects = b"3 0 obj<</Type/ObjStm/N 2/First 9/Filter/FlateDecode/Length %d>>stream\n" % len(stream)
    objects += stream + b"\nendstream endobj\n"
    at = len(head) + len(objects)
    rows = [(0, 0, 65535), (2, 3, 0), (2, 3, 1), (1, len(head), 0), (1, at, 0)]
    table = b"".join(struct.pack(">BIH", *row) for row in rows)
    index = b"4 0 obj<</Type/XRef/Size 5/W[1 4 2]/Root 1 0 R/Length %d>>stream\n" % len(table) + table
    return head + objects + index + b"\nendstream endobj\nstartxref\n%d\n%%%%EOF\n" % at


def sounds() -> dict[str, bytes]:
    """Recordings by what is bad about them."""
    with tempfile.TemporaryDirectory() as folder:
        flac = bytearray(recordings.write(Path(folder) / "a.flac", np.zeros(RATE * 600), RATE).read_bytes())
        m4a = recordings.write(Path(folder) / "a.m4a", np.zeros(RATE), RATE).read_bytes()
    flac[21] &= 0xF0
    flac[22:26] = bytes(4)
    at = m4a.index(b"stsz")
    index = m4a[: at + 8] + struct.pack(">II", 1, 10**9) + m4a[at + 16 :]
    many = m4a[: at + 8] + struct.pack(">II", 1, 2 * 10**7) + m4a[at + 16 :]
    return {
        "FLAC of 600 s of silence": bytes(flac),
        "M4A whose index claims 10^9 samples": index,
        "M4A whose index claims 2 x 10^7 samples": many,
        "WAV of 120 s, noise": wav(120),
    }


def wav(seconds: int) -> bytes:
    """Noise without a note in it, two channels."""
    sound = np.random.default_rng(1).integers(-9000, 9000, (seconds * RATE, 2)).astype("<i2").tobytes()
    body = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 2, RATE, 4 * RATE, 4, 16) + struct.pack(
        "<4sI", b"data", len(sound)
    )
    return struct.pack("<4sI4s", b"RIFF", 4 + len(body) + len(sound), b"WAVE") + body + sound
