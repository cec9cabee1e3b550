"""Pictures and papers of blanks and lots: sent as files, listed, fetched, taken back."""

import io
from typing import Annotated, Any, Literal

from fastapi import Depends, Query
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.bodies import sent_as
from webapp.api.frame.call import PDF, Call, Change, Look
from webapp.api.frame.fields import Serial
from webapp.api.frame.rows import listed, model_of, row, row_of
from webapp.api.frame.ways import WORK, way
from webapp.models import FileKind, Photo, Role
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import find
from webapp.shop.blanks import photo_files, photos, pictures, state as blank_state
from webapp.shop.blanks.photos import AddPhoto, TakePhotoBack
from webapp.shop.stock import rules as stock

JPEG = "image/jpeg"
TAKES = (JPEG, "image/png", "image/webp", PDF)

PhotoShown = model_of("PhotoShown", Photo, by_name=str)
Asked = Annotated[AddPhoto, Query()]
Sent = Annotated[bytes, Depends(sent_as(TAKES))]
router = ways.router("photos")


@router.get(
    "/blanks/{serial}/photos",
    **way("A blank's pictures and papers", "/blanks/{serial}/photos", shows=listed(PhotoShown)),
)
def of_blank(call: Look, serial: Serial) -> Response:
    blank = blank_state.by_serial(call.session, serial)
    return call.answer({"items": [_shown(one) for one in photos.of_blank(call.session, blank.id)]})


@router.get(
    "/stock/{id:int}/photos",
    **way("A lot's pictures and papers", "/stock/{item_id}/photos", shows=listed(PhotoShown)),
)
def of_lot(call: Look, id: int) -> Response:
    item = stock.item_of(call.session, id)
    return call.answer({"items": [_shown(one) for one in photos.of_lot(call.session, item.id)]})


@router.post(
    "/blanks/{serial}/photos",
    **way(
        "Keep a picture or a paper of a blank",
        "/blanks/{serial}/photos",
        scope=WORK,
        shows=row_of(Photo),
        status=201,
        takes=TAKES,
    ),
)
def add_to_blank(call: Change, serial: Serial, asked: Asked, sent: Sent) -> Response:
    # Made ready before anything is locked.
    ready = pictures.prepare(io.BytesIO(sent), call.around.largest_photo, call.around.workers)
    blank = blank_state.by_serial(call.session, serial)
    made = photos.add_to_blank(call.session, call.who, call.around.data, blank.id or 0, ready, asked)
    return call.answer(row(made), location=f"/api/v1/photos/{made.id}")


@router.post(
    "/stock/{id:int}/photos",
    **way(
        "Keep a picture or a paper of a lot",
        "/stock/{item_id}/photos",
        scope=WORK,
        shows=row_of(Photo),
        status=201,
        takes=TAKES,
    ),
)
def add_to_lot(call: Change, id: int, asked: Asked, sent: Sent) -> Response:
    ready = pictures.prepare(io.BytesIO(sent), call.around.largest_photo, call.around.workers)
    made = photos.add_to_lot(call.session, call.who, call.around.data, id, ready, asked)
    return call.answer(row(made), location=f"/api/v1/photos/{made.id}")


@router.get("/photos/{id:int}", **way("One picture or paper", "/photos/{photo_id}", shows=PhotoShown))
def show(call: Look, id: int) -> Response:
    return call.answer(_shown(photos.photo_of(call.session, id)))


@router.get(
    "/photos/{id:int}/picture.jpg",
    **way("The picture itself", "/photos/{photo_id}/picture.jpg", "/photos/{photo_id}/small.jpg", gives=JPEG),
)
def picture(call: Look, id: int, size: Literal["whole", "small"] = "whole") -> Response:
    photo = _there(call, id, FileKind.PICTURE)
    return _file(call, photo.file_name, JPEG, f"{id}-picture.jpg", small=size == "small")


@router.get("/photos/{id:int}/paper.pdf", **way("The paper itself", "/photos/{photo_id}/paper.pdf", gives=PDF))
def paper(call: Look, id: int) -> Response:
    return _file(call, _there(call, id, FileKind.PAPER).file_name, PDF, f"{id}-paper.pdf")


@router.post(
    "/photos/{id:int}/take-back", **way("Show it no longer", "/photos/{photo_id}", scope=WORK, shows=row_of(Photo))
)
def take_back(call: Change, id: int, asked: TakePhotoBack) -> Response:
    return call.answer(row(photos.take_back(call.session, call.who, id, asked)))


def _there(call: Call, photo_id: int, kind: FileKind) -> Photo:
    """What was taken back is shown to the shop's owner alone."""
    photo = find(call.session, Photo, photo_id, "picture")
    if photo.kind is not kind or (photo.taken_back_at and call.who.role is not Role.OWNER):
        raise NotFound(f"There is no {kind} {photo.id}.")
    return photo


def _file(call: Call, name: str, kind: str, called: str, small: bool = False) -> Response:
    path = photo_files.path_of(call.around.data, name, small)
    if path is None:
        raise NotFound("Its file is gone.")
    return call.file(path.read_bytes(), kind, called)


def _shown(one: photos.Shown) -> dict[str, Any]:
    return row(one.photo, by_name=one.by)
