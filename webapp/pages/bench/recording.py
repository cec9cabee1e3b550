"""A recording brought to the bench: listened to, shown and not kept; a reading is written down only by a person."""

import threading
from functools import partial

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response
from starlette.datastructures import FormData, UploadFile

from webapp.pages.bench.page import address, carried, page
from webapp.pages.frame.desk import Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.patience import apart
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.bench import hearing
from webapp.shop.bench.hearing import RoomAir, Sounded
from webapp.shop.blanks import state as blank_state

router = APIRouter()

AT_ONCE = 2
PATIENCE = 20.0  # seconds to wait for another recording to be over
_listening = threading.BoundedSemaphore(AT_ONCE)


@router.post("/bench/{serial}/recording")
async def hear(desk: View, request: Request, serial: str) -> Response:
    """Reads the file only for someone who may record; nothing of it is kept."""
    await run_in_threadpool(_check, desk, serial)
    largest = desk.settings.largest_recording
    declared = request.headers.get("content-length", "")
    if declared.isdigit() and len(declared) < 20 and int(declared) > largest:
        # All of it is read, or the browser would show a broken connection in place of the reason.
        async for _ in request.stream():
            pass
        too_large = Invalid({"recording": f"It must be at most {largest / 1e6:.3g} megabytes."})
        return await run_in_threadpool(_again, desk, serial, Form().failed(too_large), 422)
    async with request.form(max_fields=20, max_files=1) as data:
        return await apart(partial(_hear, desk, serial, data, largest))


def _check(desk: Desk, serial: str) -> None:
    blank_state.by_serial(desk.session, serial)
    # No transaction is kept open while the file comes in.
    desk.session.rollback()


def _hear(desk: Desk, serial: str, data: FormData, largest: int) -> Response:
    desk.data = data

    def rule(form: Form) -> str:
        room = form.read(RoomAir)
        return carried(_heard(data.get("recording"), largest), room)

    return desk.submit(
        rule,
        again=lambda form, status: _again(desk, serial, form, status),
        to=lambda found: f"{address(blank_state.by_serial(desk.session, serial))}{found}#heard",
    )


def _heard(file: UploadFile | str | None, largest: int) -> list[Sounded]:
    """The notes of what was sent; a few recordings at a time. Raises Invalid, Refused."""
    if not isinstance(file, UploadFile) or not file.filename:
        raise Invalid({"recording": "Choose a recording, or make one."})
    if not file.size:
        raise Invalid({"recording": "It is empty: record it again."})
    if not _listening.acquire(timeout=PATIENCE):
        raise Refused("Other recordings are being listened to. Send it again in a moment.")
    try:
        # An unnamed file of the system's, which the decoder can read; it is gone when the request is over.
        file.file.fileno()
        file.file.flush()
        return hearing.from_recording(file.file, largest)
    finally:
        _listening.release()


def _again(desk: Desk, serial: str, form: Form, status: int) -> Response:
    return page(desk, blank_state.by_serial(desk.session, serial), recording=form, status=status)
