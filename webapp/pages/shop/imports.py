"""Importing tables: choose a file, see what would become of each row, then all of it or nothing."""

from fastapi import APIRouter
from fastapi.responses import Response
from starlette.datastructures import UploadFile

from webapp.models import ImportDraft
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.base.messages import messages
from webapp.shop.exchange import csv_import, taking_back
from webapp.shop.exchange.csv_import import Preview
from webapp.shop.exchange.csv_nouns import NOUNS
from webapp.shop.exchange.csv_reading import LARGEST, MOST_ROWS

router = APIRouter()


@router.get("/import")
def ask(desk: View) -> Response:
    noun = desk.request.query_params.get("noun", "")
    return _ask(desk, Form({"noun": noun if noun in NOUNS else "customers"}))


@router.get("/import/sample/{noun}.csv")
def sample(desk: View, noun: str) -> Response:
    text = csv_import.sample(noun)
    headers = {"content-disposition": f'attachment; filename="{noun}.csv"'}
    return Response(text, media_type="text/csv; charset=utf-8", headers=headers)


@router.post("/import")
def take_in(desk: Act) -> Response:
    def rule(form: Form) -> ImportDraft:
        noun = str(form.values.get("noun", ""))
        sent = desk.data.get("file")
        if noun not in NOUNS:
            raise Invalid({"noun": "Choose one of the list."})
        if not isinstance(sent, UploadFile) or not sent.filename:
            raise Invalid({"file": "Choose a file."})
        with sent.file as file:
            data = file.read(LARGEST + 1)
        return csv_import.take_in(desk.session, desk.who, noun, sent.filename, data)

    return desk.submit(
        rule,
        again=lambda form, status: _ask(desk, form, status),
        to=lambda draft: f"/import/{draft.id}",
    )


@router.get("/import/{draft_id}")
def show(desk: View, draft_id: int) -> Response:
    draft = csv_import.draft_of(desk.session, desk.who, draft_id)
    # What the rows would do is tried out and taken back, which takes a session that may write.
    with desk.request.app.state.database.begin() as writing:
        preview = csv_import.preview(writing, desk.who, draft, messages)
    return _preview(desk, draft, preview)


@router.post("/import/{draft_id}")
def carry_out(desk: Act, draft_id: int) -> Response:
    draft = csv_import.draft_of(desk.session, desk.who, draft_id)
    noun = draft.noun
    try:
        done = csv_import.carry_out(desk.session, desk.who, draft, str(desk.data.get("mark", "")), messages)
    except Refused as error:
        preview = csv_import.preview(desk.session, desk.who, draft, messages)
        return _preview(desk, draft, preview, 409, str(error))
    said = f"{done.count('new')} new, {done.count('changed')} changed, {done.count('unchanged')} as they were."
    return desk.go(f"/import?said={said}&noun={noun}#done".replace(" ", "%20"))


@router.post("/import/{draft_id}/give-up")
def give_up(desk: Act, draft_id: int) -> Response:
    csv_import.give_up(desk.session, desk.who, csv_import.draft_of(desk.session, desk.who, draft_id))
    return desk.go("/import")


@router.post("/import/{draft_id}/take-back")
def take_back(desk: Act, draft_id: int) -> Response:
    draft = csv_import.draft_of(desk.session, desk.who, draft_id, done=True)
    return desk.submit(
        lambda _: taking_back.take_back(desk.session, desk.who, draft),
        again=lambda form, status: _ask(desk, Form({"noun": draft.noun}, form.errors), status),
        to=lambda count: f"/import?said={count}%20rows%20taken%20back.",
    )


def _ask(desk: Desk, form: Form, status: int = 200) -> Response:
    kinds = [(noun, noun.capitalize(), _words(noun)) for noun in NOUNS]
    return desk.render(
        "shop/import_ask.html",
        status=status,
        form=form,
        kinds=kinds,
        done=taking_back.done_lately(desk.session, desk.who),
        nouns=NOUNS,
        largest=LARGEST // 1000,
        most=MOST_ROWS,
    )


def _words(noun: str) -> str:
    return {
        "customers": "by name; who is known already is brought up to date",
        "stock": "by kind, name and wood; what is there already is counted",
        "patterns": "by name; another shape becomes a further revision",
    }[noun]


def _preview(
    desk: Desk, draft: ImportDraft, preview: Preview, status: int = 200, refused: str | None = None
) -> Response:
    delimiters = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright strokes"}
    return desk.render(
        "shop/import_preview.html",
        status=status,
        draft=draft,
        preview=preview,
        refused=refused,
        delimiter=delimiters[preview.table.delimiter],
    )
