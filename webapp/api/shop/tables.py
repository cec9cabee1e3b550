"""Tables in and out: customers, stock and patterns imported after a preview; everything taken out."""

from collections.abc import Callable, Iterator
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import JSON, Call, Change, Look
from webapp.api.frame.description import FieldProblem
from webapp.api.frame.rows import Shown
from webapp.api.frame.ways import OFFICE, way
from webapp.models import ImportDraft
from webapp.shop.base.messages import messages
from webapp.shop.exchange import csv_import, exporting, taking_back
from webapp.shop.exchange.csv_import import Preview
from webapp.shop.orders import rules as orders
from webapp.shop.people.accounts import Who

CSV, ZIP = "text/csv", "application/zip"


class CountsShown(Shown):
    """How many rows are of each kind."""

    new: int
    changed: int
    unchanged: int
    wrong: int


class CellShown(Shown):
    """What would change of one row."""

    what: str
    before: str
    after: str


class RowShown(Shown):
    """What would become of one row, and what is wrong with it."""

    line: int
    fate: str
    name: str
    changes: list[CellShown]
    wrong: list[FieldProblem]


class PreviewShown(CountsShown):
    """What would become of each row; `mark` names just this preview."""

    id: int
    noun: str
    mark: str
    rows: list[RowShown]


class GivenUpShown(Shown):
    """The table that is forgotten."""

    given_up: int


class TakenBack(Shown):
    """How many rows were taken back."""

    taken_back: int


router = ways.router("tables")


class TableSent(BaseModel):
    """A table as text, its columns named in its first line; it waits a day for being carried out."""

    noun: Literal["customers", "stock", "patterns"]
    text: Annotated[str, Field(min_length=1)]
    file_name: Annotated[str, StringConstraints(max_length=120)] = ""


class CarryOut(BaseModel):
    """The preview's mark: what it showed is what is done, or nothing."""

    mark: Annotated[str, StringConstraints(min_length=1, max_length=64)]


@router.post(
    "/imports",
    **way(
        "Send a table: what would become of each row; nothing is imported yet",
        "/import",
        scope=OFFICE,
        shows=PreviewShown,
        status=201,
    ),
)
def take_in(call: Change, asked: TableSent) -> Response:
    draft = csv_import.take_in(
        call.session, call.who, asked.noun, asked.file_name or f"{asked.noun}.csv", asked.text.encode()
    )
    preview = csv_import.preview(call.session, call.who, draft, messages)
    return call.answer(_shown(draft, preview), location=f"/api/v1/imports/{draft.id}")


@router.get(
    "/imports/{id:int}",
    **way("What would become of each row of a table that was sent", "/import/{draft_id}", shows=PreviewShown),
)
def show(call: Look, id: int) -> Response:
    draft = csv_import.draft_of(call.session, call.who, id)
    # What the rows would do is tried out and taken back, which takes a session that may write.
    with call.around.database.begin() as writing:
        return call.answer(_shown(draft, csv_import.preview(writing, call.who, draft, messages)))


@router.post(
    "/imports/{id:int}/carry-out",
    **way("Import all of it, or nothing", "/import/{draft_id}", scope=OFFICE, shows=CountsShown),
)
def carry_out(call: Change, id: int, asked: CarryOut) -> Response:
    draft = csv_import.draft_of(call.session, call.who, id)
    done = csv_import.carry_out(call.session, call.who, draft, asked.mark, messages)
    return call.answer(_counts(done))


@router.post(
    "/imports/{id:int}/give-up",
    **way("Forget a table that was sent", "/import/{draft_id}/give-up", scope=OFFICE, shows=GivenUpShown),
)
def give_up(call: Change, id: int) -> Response:
    csv_import.give_up(call.session, call.who, csv_import.draft_of(call.session, call.who, id))
    return call.answer({"given_up": id})


@router.post(
    "/imports/{id:int}/take-back",
    **way("Take an import back, all of it or nothing", "/import/{draft_id}/take-back", scope=OFFICE, shows=TakenBack),
)
def take_back(call: Change, id: int) -> Response:
    draft = csv_import.draft_of(call.session, call.who, id, done=True)
    return call.answer({"taken_back": taking_back.take_back(call.session, call.who, draft)})


@router.get("/imports/samples/{noun}.csv", **way("A small table to start from", "/import/sample/{noun}.csv", gives=CSV))
def sample(call: Look, noun: str) -> Response:
    return call.file(csv_import.sample(noun).encode(), CSV, f"{noun}.csv")


@router.get(
    "/export/everything.json",
    **way("Everything as one document", "/export/everything.json", "/export", shows=dict[str, list[dict[str, Any]]]),
)
def everything(call: Look) -> Response:
    return _all(call, exporting.as_json, JSON, "json")


@router.get("/export/tables.zip", **way("Everything as tables (CSV)", "/export/tables.zip", "/export", gives=ZIP))
def tables(call: Look) -> Response:
    return _all(call, exporting.as_zip, ZIP, "zip")


def _all(call: Call, write: Callable[[Session, Who], Iterator[bytes]], kind: str, ending: str) -> Response:
    exporting.may(call.who)
    database, who = call.around.database, call.who
    with database.write() as session:
        exporting.write_down(session, who, ending)

    def pieces() -> Iterator[bytes]:
        # A session of its own: the call's is closed before the last piece has gone out.
        with database.read() as session:
            yield from write(session, who)

    name = f"flutebench-{orders.today(call.session).isoformat()}.{ending}"
    return call.file(pieces(), kind, name)


def _shown(draft: ImportDraft, preview: Preview) -> dict[str, Any]:
    rows = [
        {
            "line": one.line,
            "fate": one.fate.what if one.fate else "wrong",
            "name": one.fate.name if one.fate else one.name,
            "changes": [{"what": what, "before": was, "after": now} for what, was, now in one.fate.changes]
            if one.fate
            else [],
            "wrong": [{"field": name or None, "message": words} for name, words in one.wrong.items()],
        }
        for one in preview.rows
    ]
    return {"id": draft.id, "noun": draft.noun, "mark": preview.mark, **_counts(preview), "rows": rows}


def _counts(preview: Preview) -> dict[str, int]:
    return {what: preview.count(what) for what in ("new", "changed", "unchanged")} | {"wrong": preview.wrong}
