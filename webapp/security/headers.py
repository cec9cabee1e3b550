"""Headers that go out with every answer."""

import re

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

CONTENT_SECURITY_POLICY = "; ".join(
    [
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "media-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    ]
)

ALWAYS = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    # Not no-referrer: over plain http the Origin rule against forged forms needs the browser to say where it is.
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "microphone=(self), camera=(self), geolocation=(), payment=(), usb=()",
}


_JSON = re.compile(r"application/([\w.-]+\+)?json\b")


class SecurityHeaders:
    """Adds the headers above; pages are never kept by a shared cache unless they say so themselves."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in ALWAYS.items():
                    headers.setdefault(name, value)
                headers.setdefault("cache-control", "no-store")
                if _JSON.match(headers.get("content-type", "")):
                    # Opened by hand, data for a program is saved and never taken for a page (ASVS 4.0.3, 14.4.2).
                    headers.setdefault("content-disposition", 'attachment; filename="answer.json"')
                if scope["scheme"] == "https":
                    headers.setdefault("strict-transport-security", "max-age=31536000")
            await send(message)

        await self.app(scope, receive, send_with_headers)
