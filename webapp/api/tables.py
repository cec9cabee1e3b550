"""Tables in and out: customers, stock and patterns brought in after a preview; everything taken out."""

from collections.abc import Callable, Iterator
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session

from webapp.api.ways import JSON, Answer, Call, File, Way
from webapp.models import ImportDraft
from webapp.pages.frame.forms import messages
from webapp.shop.exchange import csv_import, exporting
from webapp.shop.exchange.csv_import import Preview
from webapp.shop.orders import rules as orders
from webapp.shop.people.accounts import Who
from webapp.shop.people.tokens import Scope

CSV, ZIP = "text/csv", "application/zip"


class TableSent(BaseModel):
    """A table as text, its columns named in its first line; it waits a day for being carried out."""

    noun: Literal["customers", "stock", "patterns"]
    text: Annotated[str, Field(min_length=1)]
    file_name: Annotated[str, StringConstraints(max_length=120)] = ""


class CarryOut(BaseModel):
    """The preview's mark: what it showed is what is done, or nothing."""

    mark: Annotated[str, StringConstraints(min_length=1, max_length=64)]


def take_in(call: Call) -> Answer:
    asked = call.asked(TableSent)
    draft = csv_import.take_in(
        call.session, call.who, asked.noun, asked.file_name or f"{asked.noun}.csv", asked.text.encode()
    )
    preview = csv_import.preview(call.session, call.who, draft, messages)
    return Answer(_shown(draft, preview), location=f"/api/v1/imports/{draft.id}")


def show(call: Call) -> Answer:
    draft = csv_import.draft_of(call.session, call.who, call.number("id"))
    # What the rows would do is tried out and taken back, which takes a session that may write.
    with call.around.database.write() as writing:
        return Answer(_shown(draft, csv_import.preview(writing, call.who, draft, messages)))


def carry_out(call: Call) -> Answer:
    draft = csv_import.draft_of(call.session, call.who, call.number("id"))
    done = csv_import.carry_out(call.session, call.who, draft, call.asked(CarryOut).mark, messages)
    return Answer(_counts(done))


def give_up(call: Call) -> Answer:
    csv_import.give_up(call.session, call.who, csv_import.draft_of(call.session, call.who, call.number("id")))
    return Answer({"given_up": call.number("id")})


def sample(call: Call) -> Answer:
    noun = call.text("noun")
    return Answer(None, file=File(csv_import.sample(noun).encode(), CSV, f"{noun}.csv"))


def everything(call: Call) -> Answer:
    return _all(call, exporting.as_json, JSON, "json")


def tables(call: Call) -> Answer:
    return _all(call, exporting.as_zip, ZIP, "zip")


def _all(call: Call, write: Callable[[Session, Who], Iterator[bytes]], kind: str, ending: str) -> Answer:
    exporting.may(call.who)
    database, who = call.around.database, call.who
    with database.write() as session:
        exporting.write_down(session, who, ending)

    def pieces() -> Iterator[bytes]:
        # A session of its own: the call's is closed before the last piece has gone out.
        with database.read() as session:
            yield from write(session, who)

    name = f"flutebench-{orders.today(call.session).isoformat()}.{ending}"
    return Answer(None, file=File(pieces(), kind, name))


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


_ONE = "/imports/{id:int}"
_PAGE = "/import/{draft_id}"
O = Scope.OFFICE  # noqa: E741
WAYS = [
    Way(
        "GET",
        "/imports/samples/{noun}.csv",
        "A small table to start from",
        sample,
        gives=CSV,
        does=("/import/sample/{noun}.csv",),
    ),
    Way(
        "POST",
        "/imports",
        "Send a table: what would become of each row; nothing is brought in yet",
        take_in,
        O,
        TableSent,
        "import",
        does=("/import",),
    ),
    Way("GET", _ONE, "What would become of each row of a table that was sent", show, shows="import", does=(_PAGE,)),
    Way("POST", _ONE + "/carry-out", "Bring all of it in, or nothing", carry_out, O, CarryOut, "import", does=(_PAGE,)),
    Way(
        "POST",
        _ONE + "/give-up",
        "Forget a table that was sent",
        give_up,
        O,
        shows="import",
        does=(_PAGE + "/give-up",),
    ),
    Way(
        "GET",
        "/export/everything.json",
        "Everything as one document",
        everything,
        does=("/export/everything.json", "/export"),
    ),
    Way(
        "GET",
        "/export/tables.zip",
        "Everything as tables (CSV)",
        tables,
        gives=ZIP,
        does=("/export/tables.zip", "/export"),
    ),
]
