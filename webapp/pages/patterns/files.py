"""A revision as files for other programs, and a pattern imported from the engine's JSON."""

import json

from fastapi import APIRouter
from fastapi.responses import Response
from starlette.datastructures import UploadFile

from acoustics.flute.instrument import Instrument
from webapp.drawings.flute.layout_svg import layout_svg
from webapp.models import Pattern, PatternRevision
from webapp.pages.frame import designs
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import as_id
from webapp.shop.patterns import dimension_table, importing, rules as patterns
from webapp.shop.patterns.importing import ImportAsked, KeepImported, RevisionAsked
from webapp.shop.units.keys import show_note

router = APIRouter()


@router.get("/patterns/{pattern_id}/{number}/layout.dxf")
def drawing_exchange(desk: View, pattern_id: int, number: int) -> Response:
    pattern, flute = _flute(desk, pattern_id, number)
    from webapp.drawings.flute.layout_dxf import layout_dxf  # its library is large, and seldom asked for

    return _file(layout_dxf(flute, _title(pattern, number)), pattern, number, "dxf", "image/vnd.dxf")


@router.get("/patterns/{pattern_id}/{number}/layout.svg")
def vector_drawing(desk: View, pattern_id: int, number: int) -> Response:
    pattern, flute = _flute(desk, pattern_id, number)
    return _file(str(layout_svg(flute, _title(pattern, number))), pattern, number, "svg", "image/svg+xml")


@router.get("/patterns/{pattern_id}/{number}/dimensions.csv")
def spreadsheet(desk: View, pattern_id: int, number: int) -> Response:
    pattern, flute = _flute(desk, pattern_id, number)
    # The mark at the beginning tells spreadsheets that the text is UTF-8.
    text = "\N{BYTE ORDER MARK}" + dimension_table.as_csv(flute, pattern.name, number, desk.shop.decimal_comma)
    return _file(text, pattern, number, "csv", "text/csv; charset=utf-8; header=present")


@router.get("/patterns/{pattern_id}/{number}/flute.json")
def geometry(desk: View, pattern_id: int, number: int) -> Response:
    pattern, flute = _flute(desk, pattern_id, number)
    text = json.dumps(flute.to_json(), indent=2) + "\n"
    return _file(text, pattern, number, "json", "application/json")


@router.get("/patterns/import")
def ask(desk: View) -> Response:
    usual = designs.USUAL | {"a4": f"{desk.shop.a4:g}"}
    return _page(desk, Form(usual | {"pattern": desk.request.query_params.get("pattern", "")[:20]}))


@router.post("/patterns/import")
def import_flute(desk: Act) -> Response:
    def rule(form: Form) -> PatternRevision:
        form.values["document"] = _document(desk, form)
        if pattern := _further(desk, form):
            assert pattern.id is not None
            return importing.import_revision(desk.session, desk.who, pattern.id, form.read(RevisionAsked))
        asked = form.read(ImportAsked)
        return importing.import_pattern(desk.session, desk.who, asked, form.read(KeepImported))

    return desk.submit(
        rule,
        again=lambda form, status: _page(desk, form, status),
        to=lambda revision: f"/patterns/{revision.pattern_id}/{revision.number}",
    )


def _document(desk: Desk, form: Form) -> str:
    """What was pasted, or what the file holds. Raises Invalid."""
    pasted, sent = str(form.values.get("document", "")), desk.data.get("file")
    if not isinstance(sent, UploadFile) or not sent.filename:
        return pasted
    with sent.file as held:
        content = held.read(importing.LARGEST + 1)
    if pasted:
        raise Invalid({"file": "Paste the text or choose a file, not both."})
    if len(content) > importing.LARGEST:
        raise Invalid({"file": "This file is far too long for a flute."})
    try:
        # The file's text is shown in the text field from here on: mistakes are pointed out there.
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Invalid({"file": "This is not text: choose a JSON file."}) from error


def _further(desk: Desk, form: Form) -> Pattern | None:
    """The pattern that gets a new revision, if any. Raises NotFound."""
    text = str(form.values.get("pattern", ""))
    return patterns.pattern_of(desk.session, as_id(text) or 0) if text else None


def _page(desk: Desk, form: Form, status: int = 200) -> Response:
    pattern = _further(desk, form)
    return desk.render(
        "patterns/import.html", status=status, form=form, pattern=pattern, as_note=show_note, **designs.choices()
    )


def _flute(desk: Desk, pattern_id: int, number: int) -> tuple[Pattern, Instrument]:
    pattern = patterns.pattern_of(desk.session, pattern_id)
    return pattern, patterns.instrument_of(patterns.revision_of(desk.session, pattern_id, number))


def _title(pattern: Pattern, number: int) -> str:
    return f"{pattern.name}, revision {number}"


def _file(content: str, pattern: Pattern, number: int, ending: str, kind: str) -> Response:
    """A download under a plain name, never shown as a page of the shop's own."""
    safe = "".join(c if c.isascii() and c.isalnum() else "-" for c in pattern.name.replace("#", "sharp"))
    name = "-".join(part for part in safe.split("-") if part)[:60] or f"pattern-{pattern.id}"
    headers = {
        "content-disposition": f'attachment; filename="{name}-r{number}.{ending}"',
        "cache-control": "private, no-cache",
    }
    return Response(content, media_type=kind, headers=headers)
