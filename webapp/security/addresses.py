"""A NUL or another control character names nothing here, and no database takes a NUL as text: they end at the door."""

from starlette.types import ASGIApp, Receive, Scope, Send

INSTEAD = "\N{REPLACEMENT CHARACTER}"
_CONTROL = dict.fromkeys([*range(0x20), 0x7F], INSTEAD)


class NoNul:
    """Puts a harmless sign in place of control characters in an address, so that it finds nothing, like any other odd
    text (and a line break does not part it), and leaves a NUL out of what is asked."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] in ("http", "websocket"):
            query = scope["query_string"].replace(b"%00", b"").replace(b"\0", b"")
            scope = {**scope, "path": scope["path"].translate(_CONTROL), "query_string": query}
        await self.app(scope, receive, send)
