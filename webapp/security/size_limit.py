"""A limit on how much a request may carry, enforced while it arrives."""

import re
from collections.abc import Sequence
from contextlib import suppress

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send


class TooLarge(Exception):
    """Ends the reading of a body; nobody but `SizeLimit` answers it."""


class SizeLimit:
    """Answers 413 to a body of more than `largest` bytes, whether or not its length was declared.

    `larger`: addresses (as patterns of the whole path) with a limit of their own.
    """

    def __init__(self, app: ASGIApp, largest: int, larger: Sequence[tuple[str, int]] = ()) -> None:
        if min(largest, *(limit for _, limit in larger), largest) <= 0:
            raise ValueError("the largest body must be positive")
        self.app = app
        self.largest = largest
        self.larger = [(re.compile(pattern), limit) for pattern, limit in larger]

    def limit(self, path: str) -> int:
        """How many bytes may be sent to this address."""
        return next((limit for pattern, limit in self.larger if pattern.fullmatch(path)), self.largest)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        largest = self.limit(scope["path"])
        declared = Headers(scope=scope).get("content-length", "")
        if declared.isdigit() and len(declared) < 20 and int(declared) > largest:
            await self._refuse(scope, receive, send, largest)
            return
        seen = 0
        started = False

        async def counted() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > largest:
                raise TooLarge
            return message

        async def noting_start(message: Message) -> None:
            nonlocal started
            # Whoever inside takes the interruption for a fault of theirs has no say: the answer below goes out.
            if started or seen <= largest:
                started = True
                await send(message)

        with suppress(TooLarge):
            await self.app(scope, counted, noting_start)
        if seen > largest and not started:
            await self._refuse(scope, receive, send, largest)

    async def _refuse(self, scope: Scope, receive: Receive, send: Send, largest: int) -> None:
        text = f"That is more than {largest} bytes; nothing was saved."
        await PlainTextResponse(text, status_code=413)(scope, receive, send)
