"""Carries a call out: the key, the body, the rule, the answer; does nothing twice for the same idempotency key."""

import hashlib
import json
import logging
from datetime import timedelta
from typing import Any, Final

from pydantic import ValidationError
from sqlalchemy.exc import IntegrityError, OperationalError
from sqlalchemy.orm.exc import StaleDataError
from sqlmodel import Session, col, delete
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from webapp.api import problems
from webapp.api.problems import Problem
from webapp.api.ways import Answer, Call, Way
from webapp.db import Database
from webapp.models import Answered, Role, Units, now
from webapp.pages.forms import messages
from webapp.shop import tokens
from webapp.shop.errors import Invalid, ShopError
from webapp.shop.tokens import Bearer

log = logging.getLogger("flutebench")

KEPT: Final = timedelta(days=2)
LONGEST_KEY: Final = 120
MOST_FIELDS: Final = 200


async def serve(way: Way, database: Database, request: Request) -> Response:
    """The answer to one request; never an exception."""
    try:
        body = await request.body() if way.method != "GET" else b""
        return await run_in_threadpool(_answered, way, database, request, body)
    except Problem as problem:
        more = [{"field": name, "message": words} for name, words in problem.errors.items()]
        return problems.answer(problem.kind, problem.detail, {"errors": more} if more else None)
    except ShopError as error:
        return problems.of(error)
    except (IntegrityError, StaleDataError):
        text = "Someone did the same at the same moment, so this was not saved. Look again before repeating it."
        return problems.answer("refused", text)
    except OperationalError as error:
        log.error("database: %s", error.orig)
        return problems.answer("busy", "Nothing was half saved. Try again in a moment.")
    except Exception as error:
        if type(error).__module__ == "webapp.security.size_limit":
            raise
        log.exception("unforeseen in %s %s", way.method, way.path)
        return problems.answer("broken", "It is written down in the log. Nothing was half saved.")


def _answered(way: Way, database: Database, request: Request, body: bytes) -> Response:
    text = _key(request)
    with database.read() as session:
        bearer = _bearer(session, way, text)
        if way.method == "GET":
            answer = way.handler(Call(session, bearer.who, request.path_params, request.query_params))
            response = _response(answer, 200, request.headers.get("if-none-match"))
    if tokens.is_due(bearer.token) and bearer.token.id is not None:
        with database.write() as session:
            tokens.note_use(session, bearer.token.id)
    if way.method == "GET":
        return response
    with database.write() as session:
        return _act(session, way, bearer, request, body)


def _key(request: Request) -> str:
    kind, _, text = request.headers.get("authorization", "").partition(" ")
    if kind.lower() != "bearer" or not text.strip():
        raise Problem("no-key", "Send a key for programs: Authorization: Bearer fb_…")
    return text.strip()[:200]


def _bearer(session: Session, way: Way, text: str) -> Bearer:
    found = tokens.bearer(session, text)
    if found is None:
        raise Problem("no-key", "This key is not known, or it was revoked or is over.")
    if way.scope not in found.scopes and not (way.scope is tokens.Scope.READ and found.scopes):
        raise Problem("not-allowed", f"This key may not do that: it needs the scope '{way.scope}'.")
    if way.method != "GET" and found.who.role is Role.VIEWER:
        raise Problem("not-allowed", "This key's person may only look.")
    return found


def _act(session: Session, way: Way, bearer: Bearer, request: Request, body: bytes) -> Response:
    """Carry out something that changes the shop; a repeated key gets the first answer again."""
    key = request.headers.get("idempotency-key", "").strip()
    if len(key) > LONGEST_KEY or not key.isprintable():
        raise Problem("invalid", f"Idempotency-Key: at most {LONGEST_KEY} plain characters.")
    digest = hashlib.sha256(f"{way.method} {request.url.path}\n".encode() + body).hexdigest()
    kept: Answered | None = None
    assert bearer.token.id is not None
    if key:
        if before := session.get(Answered, (bearer.token.id, key)):
            return _again(before, digest)
        session.exec(delete(Answered).where(col(Answered.at) < now() - KEPT))
        kept = Answered(token_id=bearer.token.id, key=key, asked=digest, status=0)
        session.add(kept)
        session.flush()
    call = Call(session, bearer.who, request.path_params, request.query_params, _checked(way, request, body))
    answer = way.handler(call)
    response = _response(answer, 201 if answer.location else 200)
    if kept is not None:
        kept.status, kept.location = response.status_code, answer.location or ""
        kept.etag, kept.body = response.headers.get("etag", ""), bytes(response.body).decode()
        session.add(kept)
        session.commit()
    return response


def _again(before: Answered, digest: str) -> Response:
    if before.asked != digest:
        raise Problem("key-used-before", "Use a fresh Idempotency-Key for every request that is another one.")
    if not before.status:
        raise Problem("refused", "That request was carried out, but its answer is not on record: look before going on.")
    headers = {"idempotency-replayed": "true"}
    headers |= {name: value for name, value in (("location", before.location), ("etag", before.etag)) if value}
    return Response(before.body, before.status, headers, media_type="application/json")


def _checked(way: Way, request: Request, body: bytes) -> Any:
    """The body as the rule's own form, lengths in mm. Raises Invalid, Problem."""
    if way.model is None:
        return None
    if body and request.headers.get("content-type", "").split(";")[0].strip().lower() != "application/json":
        raise Problem("not-json", "Send the body as application/json.")
    try:
        sent = json.loads(body, parse_constant=lambda _: None) if body.strip() else {}
    except (ValueError, RecursionError) as error:
        raise Problem("not-json", "The body is not JSON that can be read.") from error
    if not isinstance(sent, dict) or len(sent) > MOST_FIELDS:
        raise Problem("not-json", "The body must be a JSON object.")
    sent = _clean(sent)
    fields = way.model.model_fields
    if way.versioned and "version" not in sent:
        match = request.headers.get("if-match", "").removeprefix("W/").strip().strip('"')
        if match.isascii() and match.isdigit() and len(match) < 10:
            sent["version"] = int(match)
        elif fields["version"].is_required() or match:
            raise Problem("version-needed", "Send If-Match with the ETag you were given, or `version` in the body.")
    if unknown := [name for name in sent if name not in fields]:
        raise Invalid({name[:60]: "There is no such field." for name in unknown[:10]})
    try:
        return way.model.model_validate(sent, context={"units": Units.MM})
    except ValidationError as error:
        raise Invalid(messages(error)) from error


def _clean(value: Any) -> Any:
    """Text without the characters that PostgreSQL can't store."""
    if isinstance(value, str):
        return "".join(c for c in value if c in "\n\t" or c.isprintable() or c.isspace()).strip()
    if isinstance(value, dict):
        return {_clean(str(name)): _clean(one) for name, one in value.items()}
    return [_clean(one) for one in value] if isinstance(value, list) else value


def _response(answer: Answer, status: int, seen: str | None = None) -> Response:
    headers = {}
    if answer.version is not None:
        headers["etag"] = f'"{answer.version}"'
        if seen and headers["etag"] in [one.strip() for one in seen.split(",")]:
            return Response(status_code=304, headers=headers)
    if answer.location:
        headers["location"] = answer.location
    text = json.dumps(answer.data, ensure_ascii=False, allow_nan=False)
    return Response(text, status, headers, media_type="application/json")
