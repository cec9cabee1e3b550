"""Addresses with a NUL in them name nothing here, and no database takes one as text."""

from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send


class PlainAddress:
    """Answers 400 to an address whose path or query holds a NUL, written plainly or as %00."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            query = scope["query_string"]
            if "\0" in scope["path"] or b"%00" in query or b"\0" in query:
                answer = PlainTextResponse("That is not an address of this shop.", status_code=400)
                await answer(scope, receive, send)
                return
        await self.app(scope, receive, send)
