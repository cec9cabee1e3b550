"""A NUL names nothing here, and no database takes one as text: it ends at the door."""

from starlette.types import ASGIApp, Receive, Scope, Send

INSTEAD = "\N{REPLACEMENT CHARACTER}"


class NoNul:
    """Puts a harmless sign in place of a NUL in an address, so that it finds nothing, like any other odd text."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] in ("http", "websocket"):
            query = scope["query_string"].replace(b"%00", b"").replace(b"\0", b"")
            scope = {**scope, "path": scope["path"].replace("\0", INSTEAD), "query_string": query}
        await self.app(scope, receive, send)
