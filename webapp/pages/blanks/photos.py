"""Pictures and papers of a blank or a lot: shown, added (on a phone with its camera), taken back, and served."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from urllib.parse import quote

from fastapi import APIRouter, FastAPI, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import FileResponse, Response
from sqlalchemy.exc import SQLAlchemyError
from sqlmodel import Session
from starlette.datastructures import FormData, UploadFile

from webapp.models import FileKind, Photo, Role
from webapp.pages.frame import desk as desks
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.drawn import address
from webapp.pages.frame.forms import Form
from webapp.pages.frame.patience import apart
from webapp.shop.base.errors import Invalid, NotFound
from webapp.shop.base.finding import as_id, find
from webapp.shop.blanks import photo_files, photos, pictures, state as blank_state
from webapp.shop.blanks.photos import AddPhoto, TakePhotoBack
from webapp.shop.stock import rules as stock

router = APIRouter()
log = logging.getLogger("flutebench")

PATHS = r"(?:/api/v1)?/(?:blanks/[^/]+|stock/\d+)/photos"
KEPT_BY_THE_BROWSER = {
    "cache-control": "private, max-age=31536000, immutable",
    # Whatever a file may hold, nothing in it runs and nothing in it reaches out.
    "content-security-policy": "default-src 'none'; sandbox",
}


class Place:
    """Whose pictures they are: a blank, or a lot of stock."""

    def __init__(self, session: Session, serial: str | None, item_id: int | None) -> None:
        self.blank_id: int | None = None
        self.item_id: int | None = None
        if serial is not None:
            blank = blank_state.by_serial(session, serial)
            self.blank_id, self.name, self.address = blank.id, blank.serial, address(blank)
        else:
            assert item_id is not None
            item = stock.item_of(session, item_id)
            self.item_id, self.name, self.address = item.id, item.name, f"/stock/{item.id}"

    def shown(self, session: Session) -> list[photos.Shown]:
        return photos.of_blank(session, self.blank_id) if self.blank_id else photos.of_lot(session, self.item_id)


def sweep(app: FastAPI) -> None:
    """As the shop opens: remove files whose row was never written, as where the power failed in between."""
    try:
        with app.state.database.read() as session:
            photos.sweep(session, app.state.settings.data)
    except (SQLAlchemyError, OSError):
        log.warning("The folder of pictures could not be looked through.", exc_info=True)


@router.get("/blanks/{serial}/photos")
def of_blank(desk: View, serial: str) -> Response:
    return _page(desk, Place(desk.session, serial, None), _asked(desk))


@router.get("/stock/{item_id}/photos")
def of_lot(desk: View, item_id: int) -> Response:
    return _page(desk, Place(desk.session, None, item_id), _asked(desk))


def _asked(desk: Desk) -> Form:
    """The step or defect that the next picture belongs to, from the address."""
    params = desk.request.query_params
    return Form({name: as_id(params[name]) or "" for name in ("step_id", "defect_id") if name in params})


@router.post("/blanks/{serial}/photos")
async def add_to_blank(desk: View, request: Request, serial: str) -> Response:
    return await _add(desk, request, serial, None)


@router.post("/stock/{item_id}/photos")
async def add_to_lot(desk: View, request: Request, item_id: int) -> Response:
    return await _add(desk, request, None, item_id)


async def _add(desk: Desk, request: Request, serial: str | None, item_id: int | None) -> Response:
    """Reads the file only for someone who may add it, and makes it ready before anything is locked."""
    place = await run_in_threadpool(_check, desk, serial, item_id)
    largest = desk.settings.largest_photo
    declared = request.headers.get("content-length", "")
    if declared.isdigit() and len(declared) < 20 and int(declared) > largest + 100_000:
        # All of it is read, or the browser would show a broken connection in place of the reason.
        async for _ in request.stream():
            pass
        too_large = Invalid({pictures.FIELD: f"It must be at most {largest / 1e6:.3g} megabytes."})
        return await run_in_threadpool(_page, desk, place, Form().failed(too_large), 422)
    async with request.form(max_fields=20, max_files=1) as data:
        return await apart(partial(_keep, desk, place, data, largest))


def _check(desk: Desk, serial: str | None, item_id: int | None) -> Place:
    place = Place(desk.session, serial, item_id)
    # No transaction is kept open while the file comes in.
    desk.session.rollback()
    return place


def _keep(desk: Desk, place: Place, data: FormData, largest: int) -> Response:
    folder = desk.settings.data

    def rule(form: Form) -> Photo:
        asked = form.read(AddPhoto)
        file = data.get(pictures.FIELD)
        if not isinstance(file, UploadFile) or not file.filename:
            raise Invalid({pictures.FIELD: "Take a picture, or choose a file."})
        # Made ready before the database is asked anything, and so before it is locked.
        ready = pictures.prepare(file.file, largest, desk.request.app.state.workers)
        if place.blank_id:
            return photos.add_to_blank(at.session, at.who, folder, place.blank_id, ready, asked)
        return photos.add_to_lot(at.session, at.who, folder, place.item_id or 0, ready, asked)

    def to(made: Photo) -> str:
        back = f"{place.address}/defects" if made.defect_id else place.address
        said = "Picture kept." if made.kind is FileKind.PICTURE else "Paper kept."
        return f"{back}?said={quote(said)}#pictures"

    with _acting(desk.request, data) as at:
        return at.submit(rule, again=lambda form, status: _page(at, place, form, status), to=to)


@contextmanager
def _acting(request: Request, data: FormData) -> Iterator[Desk]:
    """A desk that may write, once the file is ready: nobody else waits while it comes in."""
    yield from desks.act(request, data)


def _page(desk: Desk, place: Place, form: Form, status: int = 200) -> Response:
    return desk.render(
        "blanks/photos/all.html", status=status, place=place, form=form, pictures=place.shown(desk.session)
    )


@router.get("/photos/{photo_id}")
def one(desk: View, photo_id: int) -> Response:
    return _one(desk, photo_id, Form())


@router.post("/photos/{photo_id}")
def take_back(desk: Act, photo_id: int) -> Response:
    return desk.submit(
        lambda form: photos.take_back(desk.session, desk.who, photo_id, form.read(TakePhotoBack)),
        again=lambda form, status: _one(desk, photo_id, form, status),
        to=lambda photo: f"{_place_of(desk, photo).address}?said={quote('Taken back.')}#pictures",
    )


def _one(desk: Desk, photo_id: int, form: Form, status: int = 200) -> Response:
    shown = photos.photo_of(desk.session, photo_id)
    return desk.render(
        "blanks/photos/one.html",
        status=status,
        shown=shown,
        place=_place_of(desk, shown.photo),
        form=form,
        may_see=_may_see(desk, shown.photo),
    )


def _place_of(desk: Desk, photo: Photo) -> Place:
    if photo.blank_id is None:
        return Place(desk.session, None, photo.item_id)
    return Place(desk.session, blank_state.lock(desk.session, photo.blank_id).serial, None)


def _may_see(desk: Desk, photo: Photo) -> bool:
    """What was taken back is shown only to the shop's owner."""
    return photo.taken_back_at is None or desk.who.role is Role.OWNER


@router.get("/photos/{photo_id}/picture.jpg")
def picture(desk: View, photo_id: int) -> Response:
    return _file(desk, photo_id, FileKind.PICTURE, "image/jpeg")


@router.get("/photos/{photo_id}/small.jpg")
def small(desk: View, photo_id: int) -> Response:
    return _file(desk, photo_id, FileKind.PICTURE, "image/jpeg", small=True)


@router.get("/photos/{photo_id}/paper.pdf")
def paper(desk: View, photo_id: int) -> Response:
    return _file(desk, photo_id, FileKind.PAPER, "application/pdf")


def _file(desk: Desk, photo_id: int, kind: FileKind, media_type: str, small: bool = False) -> Response:
    photo = find(desk.session, Photo, photo_id, "picture")
    path = photo_files.path_of(desk.settings.data, photo.file_name, small)
    if photo.kind is not kind or not _may_see(desk, photo) or path is None:
        raise NotFound(f"There is no picture {photo_id}.")
    etag = f'"{photo.sha256[:32]}{"-small" if small else ""}"'
    headers = KEPT_BY_THE_BROWSER | {"etag": etag}
    if etag in desk.request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    shown = "attachment" if kind is FileKind.PAPER else "inline"
    called = f"paper-{photo_id}.pdf" if kind is FileKind.PAPER else f"picture-{photo_id}.jpg"
    return FileResponse(path, media_type=media_type, headers=headers, filename=called, content_disposition_type=shown)
