"""How a router declares one operation: what it does, what it needs, what it shows; and the list of them all."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from fastapi import APIRouter, Depends
from fastapi.routing import APIRoute
from pydantic import BaseModel
from starlette.responses import JSONResponse, Response

from webapp.api.frame.asking import Needs
from webapp.api.frame.bodies import ApiRoute
from webapp.api.frame.call import JSON, PDF
from webapp.api.frame.problems import KINDS, PROBLEM_JSON
from webapp.shop.people.tokens import Scope

READ, OFFICE, WORK = Scope.READ, Scope.OFFICE, Scope.WORK
_PROBLEM: Final = {PROBLEM_JSON: {"schema": {"$ref": "#/components/schemas/Problem"}}}


@dataclass(frozen=True, slots=True)
class Way:
    """One operation, as the page for people and the tests see it."""

    method: str
    path: str
    summary: str
    tag: str
    scope: Scope
    pages: tuple[str, ...]
    query: tuple[str, ...]
    model: type[BaseModel] | None
    gives: str


def router(tag: str) -> APIRouter:
    """The router of one noun."""
    return APIRouter(tags=[tag], route_class=ApiRoute)


def way(
    summary: str,
    *pages: str,
    scope: Scope = READ,
    shows: Any = None,
    status: int = 200,
    gives: str = JSON,
    takes: tuple[str, ...] = (),
    marked: bool = False,
    secret: bool = False,
) -> dict[str, Any]:
    """What a route is declared with.

    `pages` are the addresses of the pages that do the same: by the first of them the table of roles decides who may.
    `shows` is the model of the answer, `gives` its kind where it is no JSON, `takes` the kinds of a body that is a
    file. `marked`: only on what was seen, by the ETag, of something that counts no versions. `secret`: the answer
    holds something that is shown this once.
    """
    said = "Done. The answer holds a secret and is not given twice." if secret else "Done."
    extra: dict[str, Any] = {"security": [{"key": [str(scope)]}]}
    if takes:
        body = {kind: {"schema": {"type": "string", "format": "binary"}} for kind in takes}
        extra["requestBody"] = {"required": True, "content": body}
    if marked:
        extra["parameters"] = [IF_MATCH]
    responses: dict[int | str, dict[str, Any]] = {status: {"description": said}}
    if gives != JSON:
        text = gives.startswith("text/")
        responses[status]["content"] = {
            gives: {"schema": {"type": "string"} if text else {"type": "string", "format": "binary"}}
        }
    return {
        "summary": summary,
        "description": f"Needs the scope '{scope}'.",
        "status_code": status,
        "response_model": shows if gives == JSON else None,
        "response_class": JSONResponse if gives == JSON else Response,
        "responses": responses | _problems(gives, bool(takes), marked),
        "dependencies": [Depends(Needs(scope, pages))],
        "openapi_extra": extra,
    }


IF_MATCH: Final = {
    "name": "If-Match",
    "in": "header",
    "description": "The ETag that was seen.",
    "schema": {"type": "string"},
}


def _problems(gives: str, takes: bool, marked: bool) -> dict[int | str, dict[str, Any]]:
    kinds = ["no-key", "not-allowed", "not-found", "invalid", "busy", "disk-full"]
    kinds += ["refused"] if gives == PDF else []
    kinds += ["too-large"] if takes else []
    kinds += ["changed-meanwhile", "version-needed"] if marked else []
    return problem_responses(kinds)


def problem_responses(kinds: Iterable[str]) -> dict[int | str, dict[str, Any]]:
    """These kinds of problem as the description has them."""
    return {KINDS[kind][0]: {"description": KINDS[kind][1], "content": _PROBLEM} for kind in dict.fromkeys(kinds)}


def operation_id(route: APIRoute) -> str:
    """get-orders-number: unique, and the same as long as the address is."""
    parts = re.sub(r"{(\w+)(?::\w+)?}", r"\1", route.path_format).replace(".", "-").split("/")
    return "-".join([min(route.methods or ()).lower(), *(part for part in parts if part)])


def needs_of(route: APIRoute) -> Needs:
    """What a route needs of who asks."""
    return next(one.dependency for one in route.dependencies if isinstance(one.dependency, Needs))


def listed(routers: Iterable[APIRouter]) -> list[Way]:
    """Every operation of these routers."""
    return [_listed(route) for one in routers for route in one.routes if isinstance(route, APIRoute)]


def _listed(route: APIRoute) -> Way:
    needs = needs_of(route)
    asked: Any = route.body_field.field_info.annotation if route.body_field else None
    content = (route.responses.get(route.status_code or 200) or {}).get("content")
    return Way(
        method=min(route.methods or ()),
        path=route.path_format,
        summary=route.summary or "",
        tag=str(route.tags[0]),
        scope=needs.scope,
        pages=needs.pages,
        query=tuple(one.alias for one in route.dependant.query_params),
        model=asked,
        gives=next(iter(content)) if content else JSON,
    )
