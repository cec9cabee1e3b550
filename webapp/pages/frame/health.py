"""For whoever watches over the program: is it alive, is it ready, and what does it count. For programs, not people."""

import ipaddress
import secrets
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, PlainTextResponse, Response
from prometheus_client import generate_latest
from prometheus_client.exposition import CONTENT_TYPE_LATEST
from sqlalchemy import text
from sqlalchemy.exc import SQLAlchemyError

from webapp import db
from webapp.shop import work_counts

router = APIRouter(include_in_schema=False)


@router.get("/healthz")
def alive() -> Response:
    """The process answers."""
    return PlainTextResponse("alive\n")


@router.get("/readyz")
def ready(request: Request) -> Response:
    """The database answers and has the schema of this program; it and the data folder can be written to."""
    found = _found(request)
    return JSONResponse(found, status_code=200 if all(found.values()) else 503)


@router.get("/metrics")
def metrics(request: Request) -> Response:
    """Counts in Prometheus' text format: to this machine itself, elsewhere only with the token of the setting and over
    https, since whoever overhears the token has it."""
    if not _may_read(request):
        return PlainTextResponse("Only from this machine, or over https with the metrics token.\n", status_code=403)
    state = request.app.state
    with state.database.read() as session:
        lines = work_counts.in_words_of_prometheus(session)
    return Response(generate_latest(state.counts.registry) + lines, media_type=CONTENT_TYPE_LATEST)


def _found(request: Request) -> dict[str, bool]:
    state: Any = request.app.state
    found = {"database": False, "schema": False, "writing": False}
    try:
        with state.database.write() as session:
            session.execute(text("SELECT 1"))
            found["database"] = True
            found["schema"] = db.revision_of(session.connection()) == db.newest_revision()
            session.rollback()
        found["writing"] = state.writable.look()
    except SQLAlchemyError:
        pass
    return found


def _may_read(request: Request) -> bool:
    token = request.app.state.settings.metrics_token
    if not token:
        return _from_here(request)
    given = request.headers.get("authorization", "")
    safe = request.url.scheme == "https" or _from_here(request)
    return safe and secrets.compare_digest(given.encode(), f"Bearer {token}".encode())


def _from_here(request: Request) -> bool:
    try:
        # Behind a proxy on this machine everyone seems to come from it: what was forwarded is not from here.
        near = ipaddress.ip_address(request.client.host if request.client else "").is_loopback
    except ValueError:
        return False
    return near and "x-forwarded-for" not in request.headers and "forwarded" not in request.headers
