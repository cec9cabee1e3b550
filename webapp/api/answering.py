"""An answer as it goes out: JSON with its ETag, or a file."""

import hashlib
import json
from collections.abc import Iterator

from starlette.responses import Response, StreamingResponse

from webapp.api.ways import JSON, Answer, File

NOT_KEPT = {"cache-control": "no-store"}


def response(answer: Answer, status: int, known: str | None = None) -> Response:
    """The answer; 304 where `known` (If-None-Match) names it already.

    The ETag of something with a version is that version and a digest of all that is shown, so that it changes when a
    payment or a blank is added and yet tells which version was seen.
    """
    if answer.file is not None:
        return _file(answer.file, known)
    text = json.dumps(answer.data, ensure_ascii=False, allow_nan=False)
    headers = dict(NOT_KEPT) if answer.secret else {}
    if answer.version is not None:
        headers["etag"] = f'"{answer.version}-{_digest(text.encode())}"'
        if _named(headers["etag"], known):
            return Response(status_code=304, headers=headers)
    if answer.location:
        headers["location"] = answer.location
    return Response(text, status, headers, media_type=JSON)


def _file(file: File, known: str | None) -> Response:
    name = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else "_" for c in file.name)
    headers = {"content-disposition": f'attachment; filename="{name}"', "cache-control": "private, no-cache"}
    if isinstance(file.content, Iterator):
        return StreamingResponse(file.content, media_type=file.kind, headers=headers)
    headers["etag"] = f'"{_digest(file.content)}"'
    if _named(headers["etag"], known):
        return Response(status_code=304, headers=headers)
    return Response(file.content, media_type=file.kind, headers=headers)


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:16]


def _named(etag: str, known: str | None) -> bool:
    return known is not None and etag in [one.strip().removeprefix("W/") for one in known.split(",")]
