"""Pictures and papers of blanks and lots: sent as files, listed, fetched, taken back."""

import io
from typing import Any

from pydantic import ValidationError

from webapp.api.around import Around
from webapp.api.ways import PDF, Answer, Call, File, Way, row
from webapp.models import FileKind, Photo, Role
from webapp.pages.frame.forms import messages
from webapp.shop.base.errors import Invalid, NotFound
from webapp.shop.base.finding import find
from webapp.shop.blanks import photo_files, photos, pictures, state as blank_state
from webapp.shop.blanks.photos import AddPhoto, TakePhotoBack
from webapp.shop.people.tokens import Scope
from webapp.shop.stock import rules as stock

JPEG = "image/jpeg"
TAKES = (JPEG, "image/png", "image/webp", PDF)


def of_blank(call: Call) -> Answer:
    blank = blank_state.by_serial(call.session, call.text("serial"))
    return Answer({"items": [_shown(one) for one in photos.of_blank(call.session, blank.id)]})


def of_lot(call: Call) -> Answer:
    item = stock.item_of(call.session, call.number("id"))
    return Answer({"items": [_shown(one) for one in photos.of_lot(call.session, item.id)]})


def ready(around: Around, body: bytes) -> Any:
    return pictures.prepare(io.BytesIO(body), around.largest_photo, around.workers)


def add_to_blank(call: Call) -> Answer:
    blank = blank_state.by_serial(call.session, call.text("serial"))
    made = photos.add_to_blank(call.session, call.who, call.around.data, blank.id or 0, call.ready, _asked(call))
    return Answer(row(made), location=f"/api/v1/photos/{made.id}")


def add_to_lot(call: Call) -> Answer:
    item_id = call.number("id")
    made = photos.add_to_lot(call.session, call.who, call.around.data, item_id, call.ready, _asked(call))
    return Answer(row(made), location=f"/api/v1/photos/{made.id}")


def show(call: Call) -> Answer:
    return Answer(_shown(photos.photo_of(call.session, call.number("id"))))


def picture(call: Call) -> Answer:
    photo = _there(call, FileKind.PICTURE)
    small = call.choice("size", ["whole", "small"], "whole") == "small"
    return _file(call, photo_files.small_name(photo.file_name) if small else photo.file_name, JPEG, "picture.jpg")


def paper(call: Call) -> Answer:
    return _file(call, _there(call, FileKind.PAPER).file_name, PDF, "paper.pdf")


def take_back(call: Call) -> Answer:
    return Answer(row(photos.take_back(call.session, call.who, call.number("id"), call.asked(TakePhotoBack))))


def _asked(call: Call) -> AddPhoto:
    given = {name: call.query[name] for name in AddPhoto.model_fields if name in call.query}
    try:
        return AddPhoto.model_validate(given)
    except ValidationError as error:
        raise Invalid(messages(error)) from error


def _there(call: Call, kind: FileKind) -> Photo:
    """What was taken back is shown to the shop's owner alone."""
    photo = find(call.session, Photo, call.number("id"), "picture")
    if photo.kind is not kind or (photo.taken_back_at and call.who.role is not Role.OWNER):
        raise NotFound(f"There is no {kind} {photo.id}.")
    return photo


def _file(call: Call, name: str, kind: str, called: str) -> Answer:
    path = photo_files.folder_of(call.around.data) / name
    if not path.is_file():
        raise NotFound("Its file is gone.")
    return Answer(None, file=File(path.read_bytes(), kind, f"{call.number('id')}-{called}"))


def _shown(one: photos.Shown) -> dict[str, Any]:
    return row(one.photo, by_name=one.by)


_BLANK, _LOT, _ONE = "/blanks/{serial}/photos", "/stock/{id:int}/photos", "/photos/{id:int}"
_QUERY = {"caption": "what is to be seen", "step_id": "the step it belongs to", "defect_id": "the defect it shows"}
W = Scope.WORK
WAYS = [
    Way("GET", _BLANK, "A blank's pictures and papers", of_blank, shows="photo", listed=True, does=(_BLANK,)),
    Way(
        "POST",
        _BLANK,
        "Keep a picture or a paper of a blank",
        add_to_blank,
        W,
        None,
        "photo",
        query=_QUERY,
        does=(_BLANK,),
        takes=TAKES,
        makes_ready=ready,
    ),
    Way(
        "GET",
        _LOT,
        "A lot's pictures and papers",
        of_lot,
        shows="photo",
        listed=True,
        does=("/stock/{item_id}/photos",),
    ),
    Way(
        "POST",
        _LOT,
        "Keep a picture or a paper of a lot",
        add_to_lot,
        W,
        None,
        "photo",
        query={"caption": _QUERY["caption"]},
        does=("/stock/{item_id}/photos",),
        takes=TAKES,
        makes_ready=ready,
    ),
    Way("GET", _ONE, "One picture or paper", show, shows="photo", does=("/photos/{photo_id}",)),
    Way(
        "GET",
        _ONE + "/picture.jpg",
        "The picture itself",
        picture,
        query={"size": "whole or small"},
        gives=JPEG,
        does=("/photos/{photo_id}/picture.jpg", "/photos/{photo_id}/small.jpg"),
    ),
    Way("GET", _ONE + "/paper.pdf", "The paper itself", paper, gives=PDF, does=("/photos/{photo_id}/paper.pdf",)),
    Way(
        "POST",
        _ONE + "/take-back",
        "Show it no longer",
        take_back,
        W,
        TakePhotoBack,
        "photo",
        does=("/photos/{photo_id}",),
    ),
]
