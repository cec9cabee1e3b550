"""Everything out: as tables for a spreadsheet, or as one document for a program."""

from collections.abc import Callable, Iterator

from fastapi import APIRouter
from fastapi.responses import Response, StreamingResponse
from sqlmodel import Session

from webapp.pages.frame.desk import Desk, View
from webapp.shop.exchange import exporting
from webapp.shop.orders import rules as orders
from webapp.shop.people.accounts import Who

router = APIRouter()


@router.get("/export")
def ask(desk: View) -> Response:
    exporting.may(desk.who)
    return desk.render("shop/export.html", tables=[table.name for table in exporting.tables()])


@router.get("/export/tables.zip")
def tables(desk: View) -> Response:
    return _streamed(desk, exporting.as_zip, "zip", "application/zip")


@router.get("/export/everything.json")
def everything(desk: View) -> Response:
    return _streamed(desk, exporting.as_json, "json", "application/json")


def _streamed(desk: Desk, write: Callable[[Session, Who], Iterator[bytes]], ending: str, kind: str) -> Response:
    exporting.may(desk.who)
    name = f"flutebench-{orders.today(desk.session).isoformat()}.{ending}"
    database, who = desk.request.app.state.database, desk.who
    with database.write() as session:
        exporting.write_down(session, who, ending)

    def pieces() -> Iterator[bytes]:
        # A session of its own: the page's is closed before the last piece has gone out.
        with database.read() as session:
            yield from write(session, who)

    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return StreamingResponse(pieces(), media_type=kind, headers=headers)
