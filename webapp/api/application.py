"""The API as a FastAPI application of its own, hung below the shop's pages at /api/v1."""

from functools import cache
from typing import Any, Final

from fastapi import FastAPI, Request
from starlette.datastructures import State
from starlette.responses import JSONResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from webapp.api.blanks import blanks, defects, glue_ups, photos
from webapp.api.frame import problems
from webapp.api.frame.description import describe
from webapp.api.frame.ways import listed, operation_id
from webapp.api.orders import (
    bills,
    customers,
    dates,
    flutes,
    mails,
    orders,
    papers,
    parcels,
    payments,
    prices,
    repairs,
    status,
)
from webapp.api.patterns import patterns, routings
from webapp.api.shelf import flute_pages, sales, shelf
from webapp.api.shop import settings, tables, whole
from webapp.api.stock import stock, wood, woods

AT: Final = "/api/v1"
ROUTERS: Final = [
    module.router
    for module in (
        whole,
        customers,
        orders,
        flutes,
        prices,
        payments,
        bills,
        dates,
        papers,
        parcels,
        mails,
        status,
        repairs,
        shelf,
        sales,
        flute_pages,
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
]
WAYS: Final = listed(ROUTERS)
DESCRIBED: Final = {"at": AT, "ways": WAYS, "kinds": problems.KINDS}
"""What the page for people says of it all."""


class HeadAsGet:
    """Answers HEAD as GET; the server leaves the body out."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["method"] == "HEAD":
            scope = {**scope, "method": "GET"}
        await self.app(scope, receive, send)


def make_api(state: State) -> FastAPI:
    """All operations, and their description, which is open to everyone who can reach the shop."""
    api = _bare()
    api.state = state
    api.add_api_route("/openapi.json", _described, methods=["GET"], include_in_schema=False)
    api.add_api_route("/engine.json", _engine, methods=["GET"], include_in_schema=False)
    api.add_middleware(HeadAsGet)
    for error in problems.HANDLED:
        api.add_exception_handler(error, problems.answer_to)
    return api


def _bare() -> FastAPI:
    api = FastAPI(
        openapi_url=None,
        docs_url=None,
        redoc_url=None,
        generate_unique_id_function=operation_id,
    )
    for router in ROUTERS:
        api.include_router(router)
    return api


def _engine(_request: Request) -> Response:
    """What the engine's command line takes and gives, as JSON Schema."""
    from acoustics.schema import schemas  # seldom asked for, and it imports all of the engine

    return JSONResponse(schemas())


async def _described(_request: Request) -> Response:
    return JSONResponse(description())


@cache
def description() -> dict[str, Any]:
    """Every application has the same one; it takes a while to write, and few ask for it."""
    return describe(_bare(), AT)
