"""The server's half of keeping an entry that a dropped connection would lose (static/keep.js is the browser's).

The script sends a form itself, so that it can send it again with the same key when no answer comes. It has to learn
where the browser should go next, part after the # included, and a browser hides that from scripts; so to such a
request the redirection is told in a header of its own.
"""

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

ASKED = b"x-kept-form"
GO_TO = "x-go-to"


class KeptForms:
    """Turns a redirection into 200 with its address in X-Go-To, where the request carries X-Kept-Form."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or not any(name == ASKED for name, _ in scope["headers"]):
            await self.app(scope, receive, send)
            return

        async def told(message: Message) -> None:
            if message["type"] == "http.response.start" and 300 <= message["status"] < 400:
                headers = MutableHeaders(scope=message)
                if address := headers.get("location"):
                    message["status"] = 200
                    headers[GO_TO] = address
                    del headers["location"]
            await send(message)

        await self.app(scope, receive, told)
