"""No other site may send our forms: the browser's own word on where a request came from decides.

Sec-Fetch-Site where the browser sends it (it does over https and on localhost); otherwise Origin, or failing
that Referer, must name the host that was asked. Sources: W3C Fetch Metadata; RFC 6454; OWASP cheat sheet on CSRF.
"""

from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send

SAFE = {"GET", "HEAD", "OPTIONS"}


def comes_from_here(headers: Headers) -> bool:
    """Whether these request headers show that one of our own pages sent the request."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in {"same-origin", "none"}
    said = headers.get("origin") or headers.get("referer")
    return bool(said) and said != "null" and urlsplit(said).netloc.lower() == headers.get("host", "").lower()


def socket_comes_from_here(headers: Headers) -> bool:
    """Whether a WebSocket is opened by one of our own pages: its Origin, which every browser sends (RFC 6455, 10.2),
    must name the host that was asked."""
    if headers.get("sec-fetch-site", "same-origin") != "same-origin":
        return False
    said = urlsplit(headers.get("origin", ""))
    return said.scheme in {"http", "https"} and said.netloc.lower() == headers.get("host", "").lower() != ""


def allowed(scope: Scope) -> bool:
    """Whether this request may change something: one of our own pages sent it, or a program with a key of its own,
    which no other site can make a browser send. The ways below /api/ look at keys alone and never at cookies."""
    headers = Headers(scope=scope)
    bears = headers.get("authorization", "").lower().startswith("bearer ")
    return (bears and scope["path"].startswith("/api/")) or comes_from_here(headers)


class SameOrigin:
    """Refuses (403) every request that may change something and does not come from our own pages, and every
    WebSocket that does not."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["method"] not in SAFE and not allowed(scope):
            answer = PlainTextResponse("This request did not come from one of our own pages.", status_code=403)
            await answer(scope, receive, send)
            return
        if scope["type"] == "websocket" and not socket_comes_from_here(Headers(scope=scope)):
            # Closed before it is accepted: the server answers the handshake with 403.
            await receive()
            await send({"type": "websocket.close", "code": 1008})
            return
        await self.app(scope, receive, send)
