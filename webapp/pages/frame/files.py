"""Our own files, browser libraries and fonts, each under an address that changes with its content."""

from pathlib import Path

from fastapi import APIRouter
from fastapi.responses import FileResponse
from starlette.exceptions import HTTPException

from webapp.pages.frame.rendering import FONTS, HTMX, STATIC

router = APIRouter()
FOR_A_YEAR = {"cache-control": "public, max-age=31536000, immutable"}


@router.get("/static/{mark}/{name:path}", include_in_schema=False)
def own(mark: str, name: str) -> FileResponse:
    path = (STATIC / name).resolve()
    if not path.is_relative_to(STATIC.resolve()) or not path.is_file():
        raise HTTPException(404)
    return FileResponse(path, headers=FOR_A_YEAR)


@router.get("/library/{mark}/{name}", include_in_schema=False)
def library(mark: str, name: str) -> FileResponse:
    if name != HTMX.name:
        raise HTTPException(404)
    return FileResponse(HTMX, headers=FOR_A_YEAR)


@router.get("/fonts/{name}", include_in_schema=False)
def font(name: str) -> FileResponse:
    path: Path | None = FONTS.get(name)
    if path is None:
        raise HTTPException(404)
    return FileResponse(path, media_type="font/ttf", headers=FOR_A_YEAR)
