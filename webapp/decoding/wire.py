"""How a file goes to a worker, and its answer comes back: a length, then so many bytes."""

import json
import struct
from dataclasses import replace
from typing import BinaryIO

from webapp.decoding.made import Made, Refused

_LENGTH = struct.Struct(">Q")
_PARTS = ("content", "small")


def write_file(into: BinaryIO, sent: bytes) -> None:
    into.write(_LENGTH.pack(len(sent)))
    into.write(sent)
    into.flush()


def read_file(source: BinaryIO) -> bytes | None:
    """The next file; None where there are no more."""
    head = source.read(_LENGTH.size)
    return _exactly(source, _LENGTH.unpack(head)[0]) if len(head) == _LENGTH.size else None


def write_answer(into: BinaryIO, answer: Made | Refused, is_last: bool) -> None:
    """`is_last`: the worker ends now."""
    head: dict[str, object]
    if isinstance(answer, Refused):
        head, parts = {"refused": str(answer)}, list[bytes]()
    else:
        head = {name: getattr(answer, name) for name in ("kind", "width", "height", "pages")}
        parts = [getattr(answer, name) or b"" for name in _PARTS]
    write_file(into, json.dumps(head | {"is_last": is_last}).encode())
    for part in parts:
        write_file(into, part)


def read_answer(source: BinaryIO) -> tuple[Made | Refused, bool]:
    """The answer, and whether the worker ends now. Raises EOFError where there is no whole answer."""
    head = json.loads(_whole(source))
    is_last = bool(head.pop("is_last"))
    if "refused" in head:
        return Refused(head["refused"]), is_last
    content, small = (_whole(source) or None for _ in _PARTS)
    return replace(Made(**head), content=content, small=small), is_last


def _whole(source: BinaryIO) -> bytes:
    found = read_file(source)
    if found is None:
        raise EOFError
    return found


def _exactly(source: BinaryIO, length: int) -> bytes:
    found = source.read(length)
    if len(found) < length:
        raise EOFError
    return found
