"""The kind of file a recording is, and whether its length is right: read from its bytes, never from its name."""

from __future__ import annotations

import os
import struct
from collections.abc import Callable
from typing import BinaryIO, Final

from acoustics.errors import InvalidInput

KINDS: Final = "WAV, FLAC, OGG, MP3 or M4A"

_BITRATES = {
    (1, 3): (0, 32, 64, 96, 128, 160, 192, 224, 256, 288, 320, 352, 384, 416, 448),
    (1, 2): (0, 32, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 384),
    (1, 1): (0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320),
    (2, 3): (0, 32, 48, 56, 64, 80, 96, 112, 128, 144, 160, 176, 192, 224, 256),
    (2, 2): (0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160),
    (2, 1): (0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160),
}
"""kbit/s by MPEG version (2 also for 2.5) and layer code: ISO/IEC 11172-3:1993 and 13818-3:1998, 2.4.2.3."""
_MPEG_RATES = (44100, 48000, 32000)


def recognised(file: BinaryIO, size: int) -> str:
    """The name of the demuxer for `file` of `size` bytes. Raises InvalidInput for another kind or a false length."""
    file.seek(0)
    head = file.read(12)
    checks: tuple[tuple[bool, str, Callable[[BinaryIO, int], None]], ...] = (
        (head[:4] == b"RIFF" and head[8:12] == b"WAVE", "wav", _check_wav),
        (head[:4] == b"fLaC", "flac", _check_nothing),
        (head[:4] == b"OggS", "ogg", _check_ogg),
        (head[4:8] == b"ftyp", "mov", _check_m4a),
        (head[:3] == b"ID3" or _frame_bytes(head[:4]) > 0, "mp3", _check_mp3),
    )
    for fits, demuxer, check in checks:
        if fits:
            check(file, size)
            file.seek(0)
            return demuxer
    raise InvalidInput("FILE", head[:8], f"must be a recording: {KINDS}")


def _check_nothing(file: BinaryIO, size: int) -> None:
    """FLAC gives its length in samples: that is compared once it is decoded."""


def _lies(says: int, holds: int) -> InvalidInput:
    return InvalidInput(
        "FILE", f"{says} bytes", f"must be as long as its header says, but contains {holds} bytes; save it again"
    )


def _check_wav(file: BinaryIO, size: int) -> None:
    """RIFF chunks (Multimedia Programming Interface and Data Specifications 1.0, 1991) fill the file exactly."""
    file.seek(4)
    (says,) = struct.unpack("<I", file.read(4))
    if abs(says + 8 - size) > 1:
        raise _lies(says + 8, size)
    at = 12
    while at + 8 <= size:
        file.seek(at)
        name, length = struct.unpack("<4sI", file.read(8))
        if at + 8 + length > size:
            raise _lies(at + 8 + length, size)
        if not name.isascii() or not name.decode("ascii").isprintable():
            raise _lies(at, size)
        if name == b"data" and length == 0:
            raise InvalidInput("FILE", "0 bytes of sound", "must contain sound; save it again")
        at += 8 + length + length % 2


def _check_ogg(file: BinaryIO, size: int) -> None:
    """Pages (RFC 3533, section 6) follow each other to the end of the file."""
    at = 0
    while at < size:
        file.seek(at)
        page = file.read(27)
        if len(page) < 27 or page[:4] != b"OggS":
            raise InvalidInput("FILE", f"damaged at byte {at}", "must be complete to its end")
        lengths = file.read(page[26])
        at += 27 + page[26] + sum(lengths)
        if len(lengths) < page[26] or at > size:
            raise _lies(at, size)


def _check_m4a(file: BinaryIO, size: int) -> None:
    """Boxes (ISO/IEC 14496-12, section 4.2) fill the file, the index among them."""
    at, found = 0, set()
    while at < size:
        file.seek(at)
        head = file.read(16)
        if len(head) < 8:
            raise _lies(at + 8, size)
        length, name = struct.unpack(">I4s", head[:8])
        if length == 1 and len(head) == 16:
            (length,) = struct.unpack(">Q", head[8:])
        elif length == 0:
            length = size - at
        if length < 8 or at + length > size:
            raise _lies(at + length, size)
        found.add(name)
        at += length
    if not {b"moov", b"mdat"} <= found:
        raise InvalidInput("FILE", "no index", "must be a whole M4A file")


def _check_mp3(file: BinaryIO, size: int) -> None:
    """The last frame is whole; what follows the frames may be tags."""
    file.seek(0)
    head = file.read(10)
    at = 0
    if head[:3] == b"ID3" and len(head) == 10:
        at = 10 + sum((byte & 0x7F) << (21 - 7 * i) for i, byte in enumerate(head[6:10]))
    file.seek(min(at, size), os.SEEK_SET)
    frames = 0
    while at + 4 <= size:
        file.seek(at)
        length = _frame_bytes(file.read(4))
        if length == 0:
            break
        if at + length > size:
            raise _lies(at + length, size)
        frames += 1
        at += length
    if frames < 2:
        raise InvalidInput("FILE", f"{frames} frames", f"must be a recording: {KINDS}")


def _frame_bytes(header: bytes) -> int:
    """Length of an MPEG audio frame from its header of 4 bytes, 0 for none (ISO/IEC 11172-3:1993, 2.4.1.3)."""
    if len(header) < 4 or header[0] != 0xFF or header[1] & 0xE0 != 0xE0:
        return 0
    version, layer = header[1] >> 3 & 3, header[1] >> 1 & 3
    bitrate, rate, padding = header[2] >> 4, header[2] >> 2 & 3, header[2] >> 1 & 1
    if version == 1 or layer == 0 or bitrate in (0, 15) or rate == 3:
        return 0
    kilobits = _BITRATES[1 if version == 3 else 2, layer][bitrate]
    hertz = _MPEG_RATES[rate] >> (0, 0, 1, 0)[version] >> (2 if version == 0 else 0)
    if layer == 3:
        return (12000 * kilobits // hertz + padding) * 4
    samples = 72000 if layer == 1 and version != 3 else 144000
    return samples * kilobits // hertz + padding
