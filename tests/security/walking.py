"""Walks the shop as a browser would, from link to link, and looks at the pages with a parser."""

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

from fastapi.testclient import TestClient
from httpx2 import Response

ADDRESSES = {"action", "formaction", "hx-get", "hx-post", "src", "href", "poster", "data", "xlink:href"}
FORBIDDEN_TAGS = {"style", "iframe", "object", "embed", "base", "frame", "applet"}
_NUMBER = re.compile(r"[A-Z]+-?\d+|\d+|[0-9a-f]{12}")


class Seen(HTMLParser):
    """What a page links to, and what it has that the policy forbids."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.wrong: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self._script = False
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.tags.append((tag, found))
        self._script = tag == "script"
        if tag == "script" and not found.get("src"):
            self.wrong.append("an inline script")
        if tag in FORBIDDEN_TAGS:
            self.wrong.append(f"<{tag}>")
        for name, value in found.items():
            if name.startswith("on") or name in ("style", "srcdoc") or name.startswith("hx-on"):
                self.wrong.append(f"<{tag} {name}={value}>")
            if name in ADDRESSES and value and not value.startswith("data:image/"):
                parts = urlsplit(value)
                # A draft in the person's own mail program: nothing is fetched, and nothing runs.
                is_mail = (tag, name, parts.scheme) == ("a", "href", "mailto")
                if (parts.scheme or parts.netloc) and not is_mail:
                    self.wrong.append(f"<{tag} {name}={value}>")
                if (tag == "a" and name == "href") or (tag in ("img", "link", "script") and name in ("src", "href")):
                    self.links.append(value)

    def handle_endtag(self, tag: str) -> None:
        self._script = False

    def handle_data(self, data: str) -> None:
        if self._script and data.strip():
            self.wrong.append("text in a script")


def walk(browser: TestClient, start: str, leave_out: re.Pattern[str]) -> Iterator[tuple[str, Response, Seen | None]]:
    """Every kind of page that can be reached by links, once: addresses that differ in their numbers are one kind."""
    waiting, known = [start], {_kind(start)}
    while waiting:
        address = waiting.pop(0)
        answer = browser.get(address)
        seen = Seen(answer.text) if answer.headers.get("content-type", "").startswith("text/html") else None
        yield address, answer, seen
        for link in seen.links if seen else []:
            there = urljoin(address, link).partition("#")[0]
            kind = _kind(there)
            if there.startswith("/") and kind not in known and not leave_out.search(there):
                known.add(kind)
                waiting.append(there)


def _kind(address: str) -> str:
    parts = urlsplit(address)
    if parts.path.startswith("/static/"):
        return parts.path.rpartition(".")[2]
    names = sorted(pair.partition("=")[0] for pair in parts.query.split("&"))
    return _NUMBER.sub("N", parts.path) + "?" + "&".join(names)
