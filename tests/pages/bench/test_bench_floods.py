"""A socket that is sent far more than can be heard, and a page that never reads what it is sent: neither takes the
server's memory, nor a seat for good."""

import asyncio
from collections.abc import Awaitable, Callable

import pytest
from starlette.types import Message
from starlette.websockets import WebSocket, WebSocketDisconnect

from tests.own_loop import run
from webapp.pages.bench import live
from webapp.pages.bench.live import Inbox

BLOCK = b"\0" * live.LARGEST_MESSAGE
ENOUGH = 2_000  # messages of the largest size: 200 MB
TURNS = 50_000  # of the event loop, far more than a reader that doesn't wait needs for all of them


class Flood:
    """A page that sends as fast as it is read, and counts what was taken from it."""

    def __init__(self, block: bytes, count: int) -> None:
        self._block, self._left, self.taken = block, count, 0

    async def receive(self) -> Message:
        if not self._left:
            await asyncio.Event().wait()
        self._left -= 1
        self.taken += 1
        return {"type": "websocket.receive", "bytes": self._block}


def socket(receive: Callable[[], Awaitable[Message]], send: Callable[[Message], Awaitable[None]]) -> WebSocket:
    made = WebSocket({"type": "websocket"}, receive, send)
    made.client_state = made.application_state = made.application_state.CONNECTED
    return made


async def nothing(_: Message) -> None:
    return


async def settled() -> None:
    for _ in range(TURNS):
        await asyncio.sleep(0)


def test_what_waits_takes_no_more_than_some_megabytes() -> None:
    async def flooded() -> tuple[int, int, int]:
        flood = Flood(BLOCK, ENOUGH)
        inbox = Inbox(socket(flood.receive, nothing))
        await settled()
        at_first, blocks = flood.taken, await inbox.take()
        await settled()
        inbox.close()
        return at_first, sum(len(block) for run in blocks for block in run), flood.taken

    at_first, heard, later = run(flooded())
    assert at_first * len(BLOCK) <= live.MOST_HELD + len(BLOCK)
    assert heard == at_first * len(BLOCK), "nothing of it was dropped"
    assert at_first < later <= 2 * at_first + 1, "and it goes on once that is heard"


def test_a_page_that_reads_nothing_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(live, "SILENT", 0.05)

    async def never(_: Message) -> None:
        await asyncio.Event().wait()

    async def sent() -> None:
        page = socket(Flood(BLOCK, 0).receive, never)
        async with asyncio.timeout(30):
            with pytest.raises(WebSocketDisconnect):
                await live._send(page, {"sounds": True})

    run(sent())
