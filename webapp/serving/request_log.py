"""What the program writes down of each request, and what it counts for whoever watches over it.

A line of the log holds the route (never the address with its serials, names and secrets), the status and the time
taken: no name, no network address, nothing that was typed.
"""

import logging
import secrets
import time

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, ProcessCollector
from starlette.types import ASGIApp, Message, Receive, Scope, Send

log = logging.getLogger("flutebench.requests")

_SECONDS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0)


class Counts:
    """The counters of one process, in a registry of their own, so that several apps in one process do not mix."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self.requests = Counter(
            "flutebench_requests", "Requests answered.", ["method", "route", "status"], registry=self.registry
        )
        self.seconds = Histogram(
            "flutebench_request_seconds", "Time to answer.", ["route"], buckets=_SECONDS, registry=self.registry
        )
        ProcessCollector(registry=self.registry)  # memory, processor time, open files
        self.under_way = Gauge("flutebench_requests_under_way", "Requests being answered now.", registry=self.registry)


class RequestLog:
    """Logs and counts each request by its route; each answer carries a random mark that stands in the log too."""

    def __init__(self, app: ASGIApp, counts: Counts) -> None:
        self.app = app
        self._counts = counts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":
            await self._socket(scope, receive, send)
            return
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        began = time.perf_counter()
        mark = secrets.token_hex(6)
        scope.setdefault("state", {})["mark"] = mark
        status = 500

        async def noting(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                message.setdefault("headers", []).append((b"x-request-mark", mark.encode()))
            await send(message)

        self._counts.under_way.inc()
        try:
            await self.app(scope, receive, noting)
        finally:
            self._counts.under_way.dec()
            taken = time.perf_counter() - began
            route = _route(scope)
            method = scope["method"] if scope["method"] in _METHODS else "other"
            self._counts.requests.labels(method, route, str(status)).inc()
            self._counts.seconds.labels(route).observe(taken)
            log.info(
                "%s %s %d",
                method,
                route,
                status,
                extra={"method": method, "route": route, "status": status, "ms": round(taken * 1e3, 1), "mark": mark},
            )

    async def _socket(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One line when it is over, as for a request."""
        began, opened = time.perf_counter(), False

        async def noting(message: Message) -> None:
            nonlocal opened
            opened = opened or message["type"] == "websocket.accept"
            await send(message)

        try:
            await self.app(scope, receive, noting)
        finally:
            route, status = _route(scope), 101 if opened else 403
            self._counts.requests.labels("socket", route, str(status)).inc()
            ms = round((time.perf_counter() - began) * 1e3, 1)
            extra = {"method": "socket", "route": route, "status": status, "ms": ms, "mark": ""}
            log.info("socket %s %d", route, status, extra=extra)


_METHODS = {"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"}


def _route(scope: Scope) -> str:
    """The route as it is written in the code, such as /blanks/{serial}; one word for all that is no route."""
    return str(scope.get("state", {}).get("route", "none"))


class NoteRoute:
    """Hands the route that was found out to `RequestLog`; stands innermost, since others copy the scope."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            await self.app(scope, receive, send)
        finally:
            if path := getattr(scope.get("route"), "path", None):
                scope.setdefault("state", {})["route"] = path
