"""Carries a call out: the key, the body, the rule, the answer; does nothing twice for the same idempotency key."""

import hashlib
import logging
from datetime import timedelta
from typing import Any, Final

from sqlalchemy.exc import IntegrityError, OperationalError
from sqlalchemy.orm.exc import StaleDataError
from sqlmodel import Session, col, delete
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from webapp.api import problems
from webapp.api.answering import response
from webapp.api.around import Around
from webapp.api.bodies import checked, seen
from webapp.api.problems import Problem
from webapp.api.ways import JSON, Call, Way
from webapp.models import Answered, Role, now
from webapp.paper.press.workers import NotPrinted
from webapp.security.passwords import Crowded
from webapp.security.size_limit import TooLarge
from webapp.shop.base.errors import ShopError
from webapp.shop.people import roles, tokens
from webapp.shop.people.tokens import Bearer

log = logging.getLogger("flutebench")

KEPT: Final = timedelta(days=2)
LONGEST_KEY: Final = 120


async def serve(way: Way, around: Around, request: Request) -> Response:
    """The answer to one request; never an exception."""
    try:
        if way.takes:
            # A file is read only for someone who may send it.
            await run_in_threadpool(_let_in, way, around, request)
        body = await request.body() if way.method != "GET" else b""
        return await run_in_threadpool(_answered, way, around, request, body)
    except Problem as problem:
        more = [{"field": name, "message": words} for name, words in problem.errors.items()]
        return problems.answer(problem.kind, problem.detail, {"errors": more} if more else None)
    except Crowded as error:
        return problems.answer("too-many", str(error))
    except NotPrinted as error:
        return problems.answer("busy", str(error))
    except ShopError as error:
        return problems.of(error)
    except (IntegrityError, StaleDataError):
        text = "Someone did the same at the same moment, so this was not saved. Look again before repeating it."
        return problems.answer("refused", text)
    except OperationalError as error:
        log.error("database: %s", error.orig)
        return problems.answer("busy", "Nothing was half saved. Try again in a moment.")
    except TooLarge:
        raise
    except Exception:
        log.exception("unforeseen in %s %s", way.method, way.path)
        return problems.answer("broken", "It is written down in the log. Nothing was half saved.")


def _let_in(way: Way, around: Around, request: Request) -> None:
    with around.database.read() as session:
        _bearer(session, way, _key(request))


def _answered(way: Way, around: Around, request: Request, body: bytes) -> Response:
    text = _key(request)
    with around.database.read() as session:
        bearer = _bearer(session, way, text)
        if way.method == "GET":
            answer = way.handler(_call(session, way, around, bearer, request, body))
            made = response(answer, 200, request.headers.get("if-none-match"))
    if tokens.is_due(bearer.token) and bearer.token.id is not None:
        with around.database.write() as session:
            tokens.note_use(session, bearer.token.id)
    if way.method == "GET":
        return made
    ready = None
    if way.makes_ready:
        checked(way, request, body)
        ready = way.makes_ready(around, body)
    with around.database.write() as session:
        return _act(session, way, around, bearer, request, body, ready)


def _key(request: Request) -> str:
    kind, _, text = request.headers.get("authorization", "").partition(" ")
    if kind.lower() != "bearer" or not text.strip():
        raise Problem("no-key", "Send a key for programs: Authorization: Bearer fb_…")
    return text.strip()[:200]


def _bearer(session: Session, way: Way, text: str) -> Bearer:
    """Whom the key speaks for, if both the key and its person may do this. Raises Problem, NotAllowed."""
    found = tokens.bearer(session, text)
    if found is None:
        raise Problem("no-key", "This key is not known, or it was revoked or is over.")
    if way.scope not in found.scopes and not (way.scope is tokens.Scope.READ and found.scopes):
        raise Problem("not-allowed", f"This key may not do that: it needs the scope '{way.scope}'.")
    if way.method != "GET" and found.who.role is Role.VIEWER:
        raise Problem("not-allowed", "This key's person may only look.")
    for page in way.does[:1]:
        roles.check(found.who.role, "GET" if way.method == "GET" else "POST", page)
    return found


def _call(
    session: Session, way: Way, around: Around, bearer: Bearer, request: Request, body: bytes, ready: Any = None
) -> Call:
    return Call(
        session=session,
        who=bearer.who,
        path=request.path_params,
        query=request.query_params,
        body=None if way.method == "GET" else checked(way, request, body),
        around=around,
        base=f"{request.url.scheme}://{request.url.netloc}",
        seen=_seen(way, request),
        ready=ready,
    )


def _seen(way: Way, request: Request) -> str:
    found = seen(request)
    if way.marked and not found:
        raise Problem("version-needed", "Send If-Match with the ETag you were given.")
    return found


def _act(
    session: Session, way: Way, around: Around, bearer: Bearer, request: Request, body: bytes, ready: Any
) -> Response:
    """Carry out something that changes the shop; a repeated key gets the first answer again."""
    key = request.headers.get("idempotency-key", "").strip()
    if len(key) > LONGEST_KEY or not key.isprintable():
        raise Problem("invalid", f"Idempotency-Key: at most {LONGEST_KEY} plain characters.")
    asked = f"{way.method} {request.url.path}?{request.url.query}\n".encode()
    digest = hashlib.sha256(asked + body).hexdigest()
    kept: Answered | None = None
    assert bearer.token.id is not None
    if key:
        if before := session.get(Answered, (bearer.token.id, key)):
            return _again(way, before, digest)
        session.exec(delete(Answered).where(col(Answered.at) < now() - KEPT))
        kept = Answered(token_id=bearer.token.id, key=key, asked=digest, status=0)
        session.add(kept)
        session.flush()
    answer = way.handler(_call(session, way, around, bearer, request, body, ready))
    made = response(answer, 201 if answer.location else 200)
    if kept is not None and not answer.secret:
        kept.status, kept.location = made.status_code, answer.location or ""
        kept.etag, kept.body = made.headers.get("etag", ""), bytes(made.body).decode()
        session.add(kept)
    return made


def _again(way: Way, before: Answered, digest: str) -> Response:
    if before.asked != digest:
        raise Problem("key-used-before", "Use a fresh Idempotency-Key for every request that is another one.")
    if way.secret and not before.status:
        words = (
            "That was done already. Its answer held a secret, which is shown once and kept nowhere: ask anew for it."
        )
        raise Problem("refused", words)
    if not before.status:
        raise Problem("refused", "That request was carried out, but its answer is not on record: look before going on.")
    headers = {"idempotency-replayed": "true"}
    headers |= {name: value for name, value in (("location", before.location), ("etag", before.etag)) if value}
    return Response(before.body, before.status, headers, media_type=JSON)
