"""Pages and data go out compressed, but for those whose length could tell somebody a secret.

An answer that holds both a secret that stays and words which came with the request can be made to give the secret away
letter by letter: whoever sees the length of encrypted answers has the browser ask again and again, and the answer is a
little shorter where the words repeat a part of the secret (BREACH: Gluck, Harris and Prado, 2013). So

- an answer to a request with a query, a form or an error goes out as it is: nothing else brings words along;
- so does every answer of the addresses in `SECRETS`, which show invitations, second steps or API keys, or are secret
  themselves (most secrets are shown once, in the answer to a form);
- the compressed ones get up to 100 random bytes more, as a name in gzip's own header ("Heal the BREACH", Palacios,
  Fariña and others, 2022), so that even what is left would take very many requests.

The key in each form (`once`) is new in every answer and needs no such care. Files that change with their address are
compressed once by `pages/frame/served/files.py`.
"""

import re
import secrets
import struct
import zlib

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

KINDS = re.compile(r"(text/(html|csv|calendar|plain)|image/svg\+xml|application/([\w.-]+\+)?json)\b")
SECRETS = re.compile(r"/(me|invitation|sign-in|status|calendar|shop/people|shop/backups)\b")
LEAST = 800
LARGEST = 4_000_000
MOST_PADDING = 100
_QUALITY_OF_NONE = re.compile(r";\s*q=0(\.0{0,3})?\s*$")


def takes_gzip(accepted: str) -> bool:
    """Whether a request's Accept-Encoding names gzip and does not refuse it (RFC 9110, 12.5.3)."""
    for part in accepted.lower().split(","):
        if part.split(";")[0].strip() in ("gzip", "x-gzip"):
            return not _QUALITY_OF_NONE.search(part)
    return False


def packed(body: bytes) -> bytes:
    """A gzip file (RFC 1952) with a random name of random length."""
    padding = secrets.token_hex(MOST_PADDING)[: secrets.randbelow(MOST_PADDING) + 1].encode()
    squeeze = zlib.compressobj(5, zlib.DEFLATED, -zlib.MAX_WBITS)
    head = b"\x1f\x8b\x08\x08\0\0\0\0\0\xff" + padding + b"\0"
    return head + squeeze.compress(body) + squeeze.flush() + struct.pack("<II", zlib.crc32(body), len(body))


class Compression:
    """Compresses what is safe to. A streamed answer, such as an export of everything, goes out as it comes."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or not _may_be(scope):
            await self.app(scope, receive, send)
            return
        start: Message | None = None

        async def send_packed(message: Message) -> None:
            nonlocal start
            if message["type"] == "http.response.start":
                start = message
                return
            if start is None:
                await send(message)
                return
            head, start = start, None
            body = message.get("body", b"")
            if message["type"] == "http.response.body" and not message.get("more_body") and _suits(head, body):
                headers = MutableHeaders(raw=head["headers"])
                headers.add_vary_header("Accept-Encoding")
                if takes_gzip(Headers(scope=scope).get("accept-encoding", "")):
                    message = {**message, "body": packed(body)}
                    headers["content-encoding"] = "gzip"
                    headers["content-length"] = str(len(message["body"]))
            await send(head)
            await send(message)

        await self.app(scope, receive, send_packed)


def _may_be(scope: Scope) -> bool:
    return scope["method"] == "GET" and not scope["query_string"] and not SECRETS.match(scope["path"])


def _suits(head: Message, body: bytes) -> bool:
    headers = Headers(raw=head["headers"])
    return (
        head["status"] == 200
        and LEAST <= len(body) <= LARGEST
        and "content-encoding" not in headers
        and "etag" not in headers  # a strong mark is of these bytes
        and bool(KINDS.match(headers.get("content-type", "")))
    )
