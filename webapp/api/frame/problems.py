"""What went wrong, as problem details (RFC 9457): a title for the kind, words for this case, the fields it is about.

`answer_to` is the one place that turns an exception into an answer of the API.
"""

import logging
from typing import Any, Final

from fastapi.exceptions import RequestValidationError
from sqlalchemy.exc import DatabaseError, IntegrityError, TimeoutError as PoolTimeout
from sqlalchemy.orm.exc import StaleDataError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from webapp import trouble
from webapp.paper.press.workers import NotPrinted
from webapp.security.passwords import RETRY_AFTER, Crowded
from webapp.shop.base.errors import Doubtful, FieldsNotAllowed, Invalid, NotAllowed, NotFound, ShopError, Stale
from webapp.shop.base.messages import sentences

log = logging.getLogger("flutebench")

KINDS: Final[dict[str, tuple[int, str]]] = {
    "no-key": (401, "A key is needed"),
    "not-allowed": (403, "Not yours to do"),
    "not-found": (404, "There is no such thing here"),
    "not-that-way": (405, "That can't be done here"),
    "refused": (409, "Not as things stand"),
    "changed-meanwhile": (412, "Someone else changed this"),
    "too-large": (413, "Too much at a time"),
    "not-json": (415, "A JSON object is needed"),
    "invalid": (422, "Something is missing or wrong"),
    "key-used-before": (422, "This idempotency key was used for another request"),
    "version-needed": (428, "Say which version you saw"),
    "too-many": (429, "Too many at once"),
    "busy": (503, "The database is busy or out of reach"),
    "read-only": (503, "The disk can't be written to"),
    "damaged": (503, "The database is damaged"),
    "disk-full": (507, "The disk is full"),
    "broken": (500, "Something broke on our side"),
}
PROBLEM_JSON: Final = "application/problem+json"
_NO_OBJECT: Final = {"json_invalid", "missing", "model_type", "model_attributes_type", "dict_type"}


class Problem(HTTPException):
    """An answer of its own kind, where no rule of the shop has a word for it."""

    def __init__(self, kind: str, detail: str, errors: dict[str, str] | None = None) -> None:
        super().__init__(KINDS[kind][0], detail)
        self.kind, self.errors = kind, errors or {}


class Replay(Exception):
    """A request that was carried out before, with the answer that it got then."""

    def __init__(self, response: Response) -> None:
        super().__init__("replayed")
        self.response = response


# What the application hands to `answer_to`; whatever else is raised is a fault of ours.
HANDLED: Final = (
    Replay,
    HTTPException,
    RequestValidationError,
    Crowded,
    NotPrinted,
    ShopError,
    IntegrityError,
    StaleDataError,
    DatabaseError,
    PoolTimeout,
    OSError,
)


def answer_to(_request: Request, error: Exception) -> Response:
    """The answer for whatever was raised."""
    match error:
        case Replay():
            return error.response
        case Problem():
            return answer(error.kind, error.detail, _fields(error.errors))
        case HTTPException():
            return _of_the_route(error)
        case RequestValidationError():
            return _of_the_request(error)
        case Stale():
            return answer("changed-meanwhile", str(error), {"theirs": error.theirs})
        case Invalid():
            return answer("invalid", str(error), {"errors": _listed(error.errors)})
        case FieldsNotAllowed():
            return answer("not-allowed", str(error), _fields(error.errors))
        case Doubtful():
            return answer("refused", f"{error} To keep it, send it again with `sure`.", {"sure": error.sure})
        case ShopError():
            kinds = {NotFound: "not-found", NotAllowed: "not-allowed"}
            return answer(next((kind for of, kind in kinds.items() if isinstance(error, of)), "refused"), str(error))
        case Crowded():
            return answer("too-many", str(error))
        case NotPrinted():
            return answer("busy", str(error))
        case IntegrityError() | StaleDataError():
            text = "Someone did the same at the same moment, so this was not saved. Look again before repeating it."
            return answer("refused", text)
    if found := trouble.of(error):
        log.error("%s: %s", found.kind, getattr(error, "orig", error))
        return answer(found.kind, found.text)
    log.error("unexpected", exc_info=error)
    return answer("broken", "It is written down in the log. Nothing was half saved.")


def answer(kind: str, detail: str, more: dict[str, Any] | None = None) -> Response:
    status, title = KINDS[kind]
    body = {"type": f"/api#problem-{kind}", "title": title, "status": status, "detail": detail, **(more or {})}
    headers = {"www-authenticate": 'Bearer realm="Flutebench"'} if status == 401 else {}
    if status == 429:
        headers["retry-after"] = str(RETRY_AFTER)
    return JSONResponse(body, status_code=status, media_type=PROBLEM_JSON, headers=headers)


def _of_the_route(error: HTTPException) -> Response:
    kind = {404: "not-found", 405: "not-that-way", 413: "too-large"}.get(error.status_code, "invalid")
    return answer(kind, "The address names nothing here." if kind == "not-found" else str(error.detail))


def _of_the_request(error: RequestValidationError) -> Response:
    items = [{**item, "loc": tuple(item["loc"])[1:]} for item in error.errors()]
    if any(not item["loc"] and item["type"] in _NO_OBJECT for item in items):
        return answer("not-json", "The body must be a JSON object.")
    found = sentences(items)
    return answer("invalid", "; ".join(found.values()), {"errors": _listed(found)})


def _fields(errors: dict[str, str]) -> dict[str, Any] | None:
    return {"errors": _listed(errors)} if errors else None


def _listed(errors: dict[str, str]) -> list[dict[str, str | None]]:
    return [{"field": name or None, "message": words} for name, words in errors.items()]
