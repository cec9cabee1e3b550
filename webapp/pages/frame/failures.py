"""The one place where something that went wrong becomes an answer."""

import logging

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from sqlalchemy.exc import DatabaseError, IntegrityError, TimeoutError as PoolTimeout
from sqlalchemy.orm.exc import StaleDataError
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from webapp import trouble
from webapp.pages.frame.desk import GoTo
from webapp.paper.press.workers import NotPrinted
from webapp.security.passwords import RETRY_AFTER, Crowded
from webapp.security.size_limit import TooLarge
from webapp.shop.base.errors import Invalid, NotAllowed, NotFound, Refused, ShopError, Stale

log = logging.getLogger("flutebench")

_STATUS: dict[type[ShopError], tuple[int, str]] = {
    NotFound: (404, "There is no such thing here"),
    Refused: (409, "Not as things stand"),
    Stale: (409, "Someone else changed this"),
    NotAllowed: (403, "Not yours to do"),
    Invalid: (422, "Something is missing or wrong"),
    NotPrinted: (503, "The paper could not be made"),
}


def page(request: Request, status: int, title: str, text: str) -> Response:
    """A plain page that says what happened; needs no database, since that may be what failed."""
    html = request.app.state.templates.get_template("frame/failure.html").render(
        title=title, text=text, person=None, shop=None, here="", notice=None
    )
    # To the script that keeps entries: it shows the reason and sends the entry again by itself.
    headers = {"x-trouble": title} if status in (503, 507) else None
    return HTMLResponse(html, status_code=status, headers=headers)


def crowded() -> dict[str, str]:
    """What tells a browser when to try again, where too many passwords are being checked."""
    return {"retry-after": str(RETRY_AFTER)}


def install(app: FastAPI) -> None:
    """Teach the application to answer each kind of failure."""

    @app.exception_handler(GoTo)
    def _go(request: Request, error: GoTo) -> Response:
        if "hx-request" in request.headers and "hx-boosted" not in request.headers:
            return Response(headers={"HX-Redirect": error.address})
        return RedirectResponse(error.address, status_code=303)

    @app.exception_handler(ShopError)
    def _shop(request: Request, error: ShopError) -> Response:
        status, title = next((v for kind, v in _STATUS.items() if isinstance(error, kind)), (409, "Not done"))
        return page(request, status, title, str(error))

    @app.exception_handler(Crowded)
    def _crowd(request: Request, error: Crowded) -> Response:
        answer = page(request, 429, "Too many at once", f"{error} Nothing was saved.")
        answer.headers.update(crowded())
        return answer

    @app.exception_handler(StaleDataError)
    def _stale(request: Request, _error: StaleDataError) -> Response:
        return page(
            request,
            409,
            "Someone else changed this",
            "It changed while this was being saved. Nothing was lost; look again.",
        )

    @app.exception_handler(IntegrityError)
    def _collision(request: Request, error: IntegrityError) -> Response:
        log.warning("two at once: %s", error.orig)
        text = "Someone did the same at the same moment, so this was not saved. Look again before repeating it."
        return page(request, 409, "Two at once", text)

    @app.exception_handler(HTTPException)
    def _http(request: Request, error: HTTPException) -> Response:
        title = {404: "There is no such page", 405: "That can't be done here"}.get(error.status_code, "Not done")
        answer = page(request, error.status_code, title, str(error.detail))
        answer.headers.update(error.headers or {})
        return answer

    @app.exception_handler(RequestValidationError)
    def _address(request: Request, _error: RequestValidationError) -> Response:
        return page(request, 404, "There is no such page", "The address does not name anything in this shop.")

    @app.exception_handler(DatabaseError)
    @app.exception_handler(PoolTimeout)
    @app.exception_handler(OSError)
    def _trouble(request: Request, error: Exception) -> Response:
        found = trouble.of(error)
        if found is None:
            raise error
        log.error("%s: %s", found.kind, getattr(error, "orig", error))
        return page(request, found.status, found.title, found.text)


class Unexpected:
    """Turns whatever nobody foresaw into a page and a line of the log. It stands inside the middleware that adds the
    headers, so that this page has them too; Starlette's own place for it is outside of them."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        begun = False

        async def noting(message: Message) -> None:
            nonlocal begun
            begun = begun or message["type"] == "http.response.start"
            await send(message)

        try:
            await self.app(scope, receive, noting)
        except TooLarge:
            raise
        except Exception as error:
            if scope["type"] != "http" or begun:
                raise
            request = Request(scope, receive)
            mark = getattr(request.state, "mark", "")
            log.exception("unexpected [%s]", mark, exc_info=error)
            text = f"It is written down in the log, with the mark {mark}. Nothing was half saved."
            await page(request, 500, "Something broke on our side", text)(scope, receive, send)
