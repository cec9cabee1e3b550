"""What went wrong, as problem details (RFC 9457): a title for the kind, words for this case, the fields it is about."""

from typing import Any, Final

from starlette.responses import JSONResponse, Response

from webapp.security.passwords import RETRY_AFTER
from webapp.shop.base.errors import Invalid, NotAllowed, NotFound, ShopError, Stale

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
    "broken": (500, "Something broke on our side"),
}


class Problem(Exception):
    """An answer of its own kind, where no rule of the shop has a word for it."""

    def __init__(self, kind: str, detail: str, errors: dict[str, str] | None = None) -> None:
        super().__init__(detail)
        self.kind, self.detail, self.errors = kind, detail, errors or {}


def kind_of(error: ShopError) -> str:
    """The kind of problem that an error of the shop's is."""
    kinds = {NotFound: "not-found", Stale: "changed-meanwhile", NotAllowed: "not-allowed", Invalid: "invalid"}
    return next((kind for of, kind in kinds.items() if isinstance(error, of)), "refused")


def of(error: ShopError) -> Response:
    """The answer for an error of the shop's."""
    more: dict[str, Any] = {}
    if isinstance(error, Invalid):
        more["errors"] = [{"field": name or None, "message": words} for name, words in error.errors.items()]
    if isinstance(error, Stale):
        more["theirs"] = error.theirs
    return answer(kind_of(error), str(error), more)


def answer(kind: str, detail: str, more: dict[str, Any] | None = None) -> Response:
    status, title = KINDS[kind]
    body = {"type": f"/api#problem-{kind}", "title": title, "status": status, "detail": detail, **(more or {})}
    headers = {"www-authenticate": 'Bearer realm="Flutebench"'} if status == 401 else {}
    if status == 429:
        headers["retry-after"] = str(RETRY_AFTER)
    return JSONResponse(body, status_code=status, media_type="application/problem+json", headers=headers)
