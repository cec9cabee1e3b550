"""The API as an application of its own, hung below the shop's pages at /api/v1."""

from collections.abc import Awaitable, Callable
from dataclasses import replace
from functools import cache
from typing import Any, Final

from starlette.applications import Starlette
from starlette.datastructures import State
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from webapp.api import (
    blanks,
    customers,
    dates,
    defects,
    flutes,
    glue_ups,
    orders,
    papers,
    patterns,
    payments,
    photos,
    prices,
    problems,
    repairs,
    routings,
    settings,
    status,
    stock,
    tables,
    whole,
    wood,
    woods,
)
from webapp.api.around import Around
from webapp.api.description import openapi
from webapp.api.serving import serve
from webapp.api.ways import Way

AT: Final = "/api/v1"
WAYS: Final = [
    replace(way, tag=module.__name__.rsplit(".", 1)[-1].replace("whole", "shop").replace("_", " "))
    for module in (
        whole,
        customers,
        orders,
        flutes,
        prices,
        payments,
        dates,
        papers,
        status,
        repairs,
        tables,
        blanks,
        glue_ups,
        defects,
        photos,
        stock,
        wood,
        woods,
        patterns,
        routings,
        settings,
    )
    for way in module.WAYS
]


DESCRIBED: Final = {"at": AT, "ways": WAYS, "kinds": problems.KINDS}
"""What the page for people says of it all."""


def make_api(state: State) -> Starlette:
    """All ways, and their description, which is open to everyone who can reach the shop."""
    around = Around.of(state)
    routes = [Route("/openapi.json", _described, methods=["GET"])]
    routes += [Route(way.path, _endpoint(way, around), methods=[way.method]) for way in WAYS]
    return Starlette(routes=_joined(routes), exception_handlers={HTTPException: _other})


async def _described(_request: Request) -> Response:
    return JSONResponse(_description())


@cache
def _description() -> dict[str, Any]:
    """Every application has the same one; it takes a while to write, and few ask for it."""
    return openapi(WAYS, AT)


def _endpoint(way: Way, around: Around) -> Callable[[Request], Awaitable[Response]]:
    async def endpoint(request: Request) -> Response:
        return await serve(way, around, request)

    return endpoint


def _joined(routes: list[Route]) -> list[Route]:
    """Whole words before parts in braces, so that /orders/repair is no order's number."""
    return sorted(routes, key=lambda route: route.path.count("{"))


async def _other(_request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    kind = {404: "not-found", 405: "not-that-way", 413: "too-large"}.get(error.status_code, "invalid")
    return problems.answer(kind, "The address names nothing here." if kind == "not-found" else str(error.detail))
