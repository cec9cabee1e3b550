"""Our own files, browser libraries and fonts, each under an address that changes with its content."""

import gzip
import mimetypes
from functools import lru_cache
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from webapp.pages.frame.rendering import HTMX, STATIC
from webapp.pages.frame.served.typefaces import woff2
from webapp.serving.compression import takes_gzip

router = APIRouter()
FOR_A_YEAR = {"cache-control": "public, max-age=31536000, immutable"}
# The service worker answers for pages of every address, though it lies among the files.
WORKER = {"service-worker-allowed": "/"}
KINDS = {".webmanifest": "application/manifest+json"}
# Pictures of other kinds are compressed already.
TEXTS = {".css", ".js", ".svg"}


@router.get("/static/{mark}/{name:path}", include_in_schema=False)
def own(request: Request, mark: str, name: str) -> Response:
    path = (STATIC / name).resolve()
    if not path.is_relative_to(STATIC.resolve()) or not path.is_file():
        raise HTTPException(404)
    return _file(request, path)


@router.get("/library/{mark}/{name}", include_in_schema=False)
def library(request: Request, mark: str, name: str) -> Response:
    if name != HTMX.name:
        raise HTTPException(404)
    return _file(request, HTMX)


@router.get("/fonts/{mark}/{name}", include_in_schema=False)
def font(mark: str, name: str) -> Response:
    content = woff2(name)
    if content is None:
        raise HTTPException(404)
    return Response(content, media_type="font/woff2", headers=FOR_A_YEAR)


def _file(request: Request, path: Path) -> Response:
    kind = KINDS.get(path.suffix) or mimetypes.guess_type(path.name)[0] or "application/octet-stream"
    packed = path.suffix in TEXTS
    headers = FOR_A_YEAR | ({"vary": "Accept-Encoding"} if packed else {})
    if path.name == "worker.js":
        headers |= WORKER
    changed = path.stat().st_mtime_ns
    if packed and takes_gzip(request.headers.get("accept-encoding", "")):
        return Response(_gzipped(path, changed), media_type=kind, headers=headers | {"content-encoding": "gzip"})
    return Response(path.read_bytes(), media_type=kind, headers=headers)


@lru_cache(maxsize=128)
def _gzipped(path: Path, changed: int) -> bytes:
    return gzip.compress(path.read_bytes(), 9, mtime=0)
