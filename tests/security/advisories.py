"""A folder or zip of advisories in the OSV format, answering on this computer as the OSV service does.

So that pip-audit needs no network. https://ossf.github.io/osv-schema/ says what an advisory holds and which versions it
means: those that are listed, and those within a range of events. OSV gives away all that it knows of Python's packages
as one zip.
"""

import json
import zipfile
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any

from packaging.utils import canonicalize_name
from packaging.version import InvalidVersion, Version

Advisory = dict[str, Any]


class Advisories:
    """What is known of each package, by its normal name."""

    def __init__(self, path: Path) -> None:
        self._of: dict[str, list[Advisory]] = defaultdict(list)
        self.number, self.newest = 0, ""
        for text in _texts(path):
            found = json.loads(text)
            names = {canonicalize_name(one["package"]["name"]) for one in _of_python(found)}
            if "id" in found and names:
                self.number += 1
                self.newest = max(self.newest, str(found.get("modified", "")))
            for name in names:
                self._of[name].append(found)

    def about(self, name: str, version: str) -> list[Advisory]:
        """Those that mean this version of the package and were not withdrawn."""
        normal = canonicalize_name(name)
        return [
            one
            for one in self._of.get(normal, [])
            if "withdrawn" not in one
            and any(
                _means(part, version)
                for part in _of_python(one)
                if canonicalize_name(part["package"]["name"]) == normal
            )
        ]


def _texts(path: Path) -> Iterator[str]:
    if path.is_dir():
        yield from (file.read_text() for file in sorted(path.rglob("*.json")))
        return
    with zipfile.ZipFile(path) as held:
        yield from (held.read(name).decode() for name in held.namelist() if name.endswith(".json"))


def _of_python(advisory: Advisory) -> list[dict[str, Any]]:
    return [part for part in advisory.get("affected", []) if part.get("package", {}).get("ecosystem") == "PyPI"]


def _means(part: dict[str, Any], version: str) -> bool:
    asked = Version(version)
    if any(_parsed(one) == asked for one in part.get("versions", [])):
        return True
    return any(_within(one["events"], asked) for one in part.get("ranges", []) if one.get("type") == "ECOSYSTEM")


def _within(events: list[dict[str, str]], asked: Version) -> bool:
    """Whether the last event at or before this version says that it is affected."""
    marks = []
    for event in events:
        for kind, text in event.items():
            mark = Version("0.dev0") if text == "0" else _parsed(text)
            if mark is not None:
                # A version that is the last one affected is affected itself; a fixed one is not.
                marks.append((mark, kind == "last_affected", kind == "introduced"))
    affected = False
    for mark, after, becomes in sorted(marks):
        if mark < asked or (mark == asked and not after):
            affected = becomes
    return affected


def _parsed(text: str) -> Version | None:
    try:
        return Version(text)
    except InvalidVersion:
        return None


@contextmanager
def answering(advisories: Advisories) -> Iterator[str]:
    """The address at which they are asked."""

    class Answer(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            asked = json.loads(self.rfile.read(int(self.headers["content-length"])))
            found = advisories.about(asked["package"]["name"], asked["version"])
            content = json.dumps({"vulns": found} if found else {}).encode()
            self.send_response(200)
            self.send_header("content-type", "application/json")
            self.send_header("content-length", str(len(content)))
            self.send_header("cache-control", "no-store")
            self.end_headers()
            self.wfile.write(content)

        def log_message(self, *_: object) -> None:
            pass

    with ThreadingHTTPServer(("127.0.0.1", 0), Answer) as server:
        thread = Thread(target=server.serve_forever, args=(0.05,), daemon=True)
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_address[1]}/v1/query"
        finally:
            server.shutdown()
            thread.join()
