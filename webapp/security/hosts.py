"""Only the names by which the shop is really reached are answered (OWASP, Testing for Host Header Injection).

A name on the open internet that an attacker lets point to the shop's own network (DNS rebinding) is refused here. What
only a local network can give out is always taken: an IP address, a single word, and names that end as RFC 6762
(.local), RFC 8375 (.home.arpa) and the reserved `.internal` do.
"""

import ipaddress
import re
from collections.abc import Iterable

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send

_LOCAL = (".local", ".lan", ".home.arpa", ".internal", ".localhost")
_NAME = re.compile(r"[a-z0-9_]([a-z0-9_.-]{0,251}[a-z0-9])?")
_PORT = re.compile(r"\d{0,5}")


def host_name(host: str) -> str | None:
    """The name or address of a Host header, without its port, in lower case; None where it is none."""
    text = host.strip().lower()
    if text.startswith("["):
        inside, _, rest = text[1:].partition("]")
        return inside if _is_address(inside) and (rest == "" or _is_port(rest)) else None
    name, colon, port = text.partition(":")
    if colon and not _PORT.fullmatch(port):
        return None
    name = name.removesuffix(".")
    return name if _NAME.fullmatch(name) else None


class KnownHosts:
    """Refuses (421) what is sent to a host that is neither local nor among `names`."""

    def __init__(self, app: ASGIApp, names: Iterable[str] = ()) -> None:
        self.app = app
        self._names = {name.lower() for name in names if name}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] in ("http", "websocket") and not self._knows(Headers(scope=scope).get("host", "")):
            if scope["type"] == "websocket":
                await receive()
                await send({"type": "websocket.close", "code": 1008})
                return
            text = "This shop is not reached by that name. Whoever keeps it can add the name to the setting HOSTS."
            await PlainTextResponse(text, status_code=421)(scope, receive, send)
            return
        await self.app(scope, receive, send)

    def _knows(self, host: str) -> bool:
        name = host_name(host)
        if name is None:
            return False
        return name in self._names or "." not in name or name.endswith(_LOCAL) or _is_address(name)


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True


def _is_port(text: str) -> bool:
    return text.startswith(":") and _PORT.fullmatch(text[1:]) is not None
