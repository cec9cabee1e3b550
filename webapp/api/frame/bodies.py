"""A JSON body before FastAPI validates it: its text without what no database keeps, its version from If-Match.

What can't be read is told only after the key is known: `refuse_unreadable` is called once it is.
"""

import json
from collections.abc import Callable, Coroutine
from typing import Any, Final

from fastapi.routing import APIRoute
from pydantic import BaseModel
from starlette.requests import Request
from starlette.responses import Response

from webapp.api.frame.problems import HANDLED, Problem, log
from webapp.security.size_limit import TooLarge
from webapp.shop.base.errors import Invalid, ShopError

MOST_FIELDS: Final = 200
JSON_TYPE: Final = (b"content-type", b"application/json")


class JsonRequest(Request):
    """A request whose JSON is cleaned, for one model."""

    model: type[BaseModel]

    async def json(self) -> Any:
        try:
            return _given(self, await self.body())
        except (Problem, ShopError) as error:
            self.state.unreadable = error
            return {}


class ApiRoute(APIRoute):
    """A route whose body is prepared, and which never lets a fault out."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        handle = super().get_route_handler()
        asked = getattr(self.body_field, "field_info", None)
        model = asked.annotation if asked is not None else None

        async def carry_out(request: Request) -> Response:
            try:
                return await handle(request if model is None else await _prepared(request, model))
            except (TooLarge, *HANDLED):
                raise
            except Exception as error:
                log.exception("unexpected in %s %s", request.method, self.path)
                raise Problem("broken", "It is written down in the log. Nothing was half saved.") from error

        return carry_out


def refuse_unreadable(request: Request) -> None:
    """Raises what was wrong with the body: Problem, Invalid."""
    if (error := getattr(request.state, "unreadable", None)) is not None:
        raise error


def sent_as(kinds: tuple[str, ...]) -> Callable[[Request], Coroutine[Any, Any, bytes]]:
    """A dependency: the body as a file of one of these kinds, read only for someone who may send it."""

    async def read(request: Request) -> bytes:
        if _kind(request) not in kinds:
            raise Problem("not-json", f"Send the file itself as the body, as {', '.join(kinds)}.")
        request.state.body = await request.body()
        return bytes(request.state.body)

    return read


def _kind(request: Request) -> str:
    return request.headers.get("content-type", "").split(";")[0].strip().lower()


async def _prepared(request: Request, model: type[BaseModel]) -> Request:
    body = await request.body()
    request.state.body = body
    if body.strip() and _kind(request) != "application/json":
        request.state.unreadable = Problem("not-json", "Send the body as application/json.")
    # Whatever it is, it is read as JSON: nothing at all is an object without fields.
    headers = [(name, value) for name, value in request.scope["headers"] if name != b"content-type"]
    prepared = JsonRequest({**request.scope, "headers": [*headers, JSON_TYPE]}, request.receive)
    prepared.model = model
    prepared._body = body if body.strip() else b"{}"
    return prepared


def _given(request: JsonRequest, body: bytes) -> dict[str, Any]:
    """The fields of the body. Raises Invalid, Problem."""
    try:
        sent = json.loads(body, parse_constant=lambda _: None)
    except (ValueError, RecursionError) as error:
        raise Problem("not-json", "The body is not JSON that can be read.") from error
    if not isinstance(sent, dict) or len(sent) > MOST_FIELDS:
        raise Problem("not-json", "The body must be a JSON object.")
    given: dict[str, Any] = cleaned(sent)
    fields = request.model.model_fields
    if "version" in fields and "version" not in given:
        seen = version_seen(request)
        if seen.isascii() and seen.isdigit() and len(seen) < 10:
            given["version"] = int(seen)
        elif fields["version"].is_required() or seen:
            raise Problem("version-needed", "Send If-Match with the ETag you were given, or `version` in the body.")
    if unknown := [name for name in given if name not in fields]:
        raise Invalid({name[:60]: "There is no such field." for name in unknown[:10]})
    return given


def version_seen(request: Request) -> str:
    """The version in the ETag of If-Match: what stands before the digest of all that was shown beside it."""
    return request.headers.get("if-match", "").removeprefix("W/").strip().strip('"').partition("-")[0][:64]


def cleaned(value: Any) -> Any:
    """Text without the characters that PostgreSQL can't store."""
    if isinstance(value, str):
        return "".join(c for c in value if c in "\n\t" or c.isprintable() or c.isspace()).strip()
    if isinstance(value, dict):
        return {cleaned(str(name)): cleaned(one) for name, one in value.items()}
    return [cleaned(one) for one in value] if isinstance(value, list) else value
