"""A limit on how much a request may carry, enforced while it arrives."""

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send


class _TooLarge(Exception):
    pass


class SizeLimit:
    """Answers 413 to a body of more than `largest` bytes, whether or not its length was declared."""

    def __init__(self, app: ASGIApp, largest: int) -> None:
        if largest <= 0:
            raise ValueError("the largest body must be positive")
        self.app = app
        self.largest = largest

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        declared = Headers(scope=scope).get("content-length", "")
        if declared.isdigit() and len(declared) < 20 and int(declared) > self.largest:
            await self._refuse(scope, receive, send)
            return
        seen = 0
        started = False

        async def counted() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > self.largest:
                raise _TooLarge
            return message

        async def noting_start(message: Message) -> None:
            nonlocal started
            started = True
            await send(message)

        try:
            await self.app(scope, counted, noting_start)
        except _TooLarge:
            if not started:
                await self._refuse(scope, receive, send)

    async def _refuse(self, scope: Scope, receive: Receive, send: Send) -> None:
        text = f"That is more than {self.largest} bytes; nothing was saved."
        await PlainTextResponse(text, status_code=413)(scope, receive, send)
