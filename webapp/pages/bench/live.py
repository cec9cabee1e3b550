"""The microphone at the bench: a socket that takes sound and gives back what the dial shows."""

import asyncio
import json
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import anyio
from anyio.to_thread import run_sync
from fastapi import APIRouter, WebSocket, WebSocketDisconnect
from pydantic import ValidationError
from sqlalchemy.exc import SQLAlchemyError
from starlette.types import Message

from webapp.models import BlankStatus, Shop
from webapp.pages.frame import cookies
from webapp.shop.base.errors import NotFound, Refused, ShopError
from webapp.shop.base.finding import find
from webapp.shop.base.messages import messages
from webapp.shop.bench import hearing, readings
from webapp.shop.bench.live import Bench, Ear, Wishes
from webapp.shop.bench.readings import SOUNDING
from webapp.shop.blanks import state as blank_state
from webapp.shop.people import accounts, second_step
from webapp.shop.people.accounts import Who

router = APIRouter()

LARGEST_MESSAGE = 100_000  # bytes, for the server too: a quarter second of 192 kHz fits
LONGEST_TEXT = 1_000
MOST_WAITING = 512  # messages: some three seconds of sound
MOST_HELD = 2_000_000  # bytes of them: some three seconds at 192 kHz
MOST_AT_ONCE = 16  # blocks that are analysed together: less than a tenth of a second of the page's own
SILENT = 15.0  # seconds without a message, or with one that the page does not read, before the socket is closed
LOOK_AGAIN = 3.0  # seconds after which it is looked up again whether the person is still signed in
SEATS, SEATS_EACH = 12, 3
ANALYSERS = 3  # threads that listen at the same time

# Close codes of RFC 6455, 7.4.1.
NORMAL, AGAINST_THE_RULES, BROKEN = 1000, 1008, 1011


class Seats:
    """How many microphones are on, in all and for each person; one thread, the event loop's, counts them."""

    def __init__(self) -> None:
        self._taken: Counter[int] = Counter()
        self.analysers = anyio.CapacityLimiter(ANALYSERS)

    @contextmanager
    def one(self, who: Who) -> Iterator[None]:
        """A seat while the block runs. Raises Refused where there is none."""
        if self._taken[who.id] >= SEATS_EACH or self._taken.total() >= SEATS:
            raise Refused("Too many microphones are on. Stop one elsewhere first.")
        self._taken[who.id] += 1
        try:
            yield
        finally:
            self._taken[who.id] -= 1


@router.websocket("/bench/{serial}/listen")
async def listen(socket: WebSocket, serial: str) -> None:
    """Refused before it opens (403) for strangers and for what can't sound; says why it ends in every other case."""
    try:
        who, bench = await run_sync(_admit, socket, serial)
    except (ShopError, SQLAlchemyError):
        await socket.close(AGAINST_THE_RULES)
        return
    await socket.accept()
    code, words = NORMAL, ""
    try:
        with _seats(socket).one(who):
            await _serve(socket, bench, serial)
    except Refused as error:
        code, words = AGAINST_THE_RULES, str(error)
    except TimeoutError:
        words = "Nothing was heard from the microphone for a while."
    except WebSocketDisconnect:
        return
    try:
        await socket.send_text(json.dumps({"over": words}))
        await socket.close(code)
    except (WebSocketDisconnect, RuntimeError):
        return


def _seats(socket: WebSocket) -> Seats:
    state = socket.app.state
    if not hasattr(state, "seats"):
        state.seats = Seats()
    seats: Seats = state.seats
    return seats


def _admit(socket: WebSocket, serial: str) -> tuple[Who, Bench]:
    """Who listens, and to what. Raises NotFound, Refused."""
    token = cookies.token(socket)
    with socket.app.state.database.read() as session:
        found = accounts.who_is(session, token) if token else None
        if found is None or "\0" in serial:
            raise NotFound("Nobody is signed in.")
        blank = blank_state.by_serial(session, serial)
        if blank.stage not in SOUNDING or blank.status not in (BlankStatus.IN_WORK, BlankStatus.FINISHED):
            raise Refused(f"{blank.serial} can't sound.")
        shop = find(session, Shop, 1, "shop")
        if not found.has_second_step and second_step.is_wanted_of(shop, found.who.role):
            raise NotFound("The second step is still owed.")
        goals = hearing.awaited(readings.goals_for(session, blank), blank)
        session.expunge_all()
        return found[0], Bench(goals, readings.aim(shop, blank.stage), shop)


class Welcome:
    """Whether the person may still listen: looked up now and then beside the sound, which never waits for it."""

    def __init__(self, socket: WebSocket, serial: str, began: float) -> None:
        self._socket, self._serial = socket, serial
        self._looked = began
        self._looking: asyncio.Task[tuple[Who, Bench]] | None = None

    def check(self, moment: float) -> None:
        """Raises Refused soon after the sign-in has ended, or the blank has left the bench."""
        if self._looking is not None and self._looking.done():
            looking, self._looking = self._looking, None
            try:
                looking.result()
            except NotFound as gone:
                raise Refused("You are signed out. Sign in again to go on.") from gone
            except SQLAlchemyError:
                pass  # the database is out of reach for a moment: that says nothing of the person
        if self._looking is None and moment - self._looked > LOOK_AGAIN:
            self._looked = moment
            self._looking = asyncio.create_task(run_sync(_admit, self._socket, self._serial))
            # The socket may end first: then nobody asks what was found.
            self._looking.add_done_callback(lambda task: task.cancelled() or task.exception())


class Inbox:
    """A socket's messages, taken as they come, so that a busy analyser hears in one go all that waits for it.

    Else each block of a few milliseconds would be analysed by itself, and on a busy machine the dial would fall ever
    further behind the flute. Where it is full the socket waits, and the page drops blocks.
    """

    def __init__(self, socket: WebSocket) -> None:
        self._socket = socket
        self._waiting: asyncio.Queue[Message] = asyncio.Queue(MOST_WAITING)
        self._held = 0  # bytes of what waits
        self._room = asyncio.Event()
        self._reading = asyncio.create_task(self._read())

    async def _read(self) -> None:
        while True:
            message = await self._socket.receive()
            self._held += len(message.get("bytes") or message.get("text") or "")
            await self._waiting.put(message)
            if message["type"] == "websocket.disconnect":
                return
            while self._held >= MOST_HELD:
                self._room.clear()
                await self._room.wait()

    async def take(self) -> list[str | list[bytes]]:
        """All that waits: texts, and blocks of sound in runs. Raises TimeoutError, WebSocketDisconnect."""
        async with asyncio.timeout(SILENT):
            messages = [await self._waiting.get()]
        while not self._waiting.empty():
            messages.append(self._waiting.get_nowait())
        self._held = 0
        self._room.set()
        taken: list[str | list[bytes]] = []
        for message in messages:
            if message["type"] == "websocket.disconnect":
                raise WebSocketDisconnect(message.get("code") or NORMAL)
            text, block = message.get("text"), message.get("bytes") or b""
            if text is not None:
                taken.append(text)
            elif taken and isinstance(taken[-1], list) and len(taken[-1]) < MOST_AT_ONCE:
                taken[-1].append(block)
            else:
                taken.append([block])
        return taken

    def close(self) -> None:
        """Read no further."""
        self._reading.cancel()


async def _serve(socket: WebSocket, bench: Bench, serial: str) -> None:
    """Take messages until the page goes away. Raises Refused, TimeoutError, WebSocketDisconnect."""
    ear: Ear | None = None
    began = time.monotonic()
    welcome = Welcome(socket, serial, began)
    limiter = _seats(socket).analysers
    quiet = False
    inbox = Inbox(socket)
    try:
        while True:
            for message in await inbox.take():
                welcome.check(time.monotonic())
                if isinstance(message, str):
                    ear = await _wish(socket, bench, ear, message)
                elif ear is None:
                    raise Refused("The page must say first how it listens.")
                else:
                    shown = await run_sync(ear.hear, message, time.monotonic() - began, limiter=limiter)
                    # Silence is told once, not a hundred times a second.
                    if shown["sounds"] or not quiet:
                        await _send(socket, shown)
                    quiet = not shown["sounds"]
    finally:
        inbox.close()


async def _send(socket: WebSocket, shown: dict[str, Any]) -> None:
    """Send it. Raises WebSocketDisconnect where the page has gone meanwhile, which the server tells in several ways, or
    reads nothing that is sent to it."""
    try:
        async with asyncio.timeout(SILENT):
            await socket.send_text(json.dumps(shown))
    except (RuntimeError, TimeoutError) as gone:
        raise WebSocketDisconnect(NORMAL) from gone


async def _wish(socket: WebSocket, bench: Bench, ear: Ear | None, text: str) -> Ear | None:
    """The listener as the page wishes it; what can't be is answered with what is wrong, and all stays as it was."""
    if len(text) > LONGEST_TEXT:
        raise Refused("That message is too long.")
    try:
        wishes = Wishes.model_validate_json(text)
    except ValidationError as error:
        await _send(socket, {"wrong": messages(error)})
        return ear
    if ear is None:
        return Ear(bench, wishes)
    ear.wish(wishes)
    return ear
