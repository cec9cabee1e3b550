"""Patterns: the list, a pattern with its revisions, and the form that designs one."""

from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from acoustics.designing.proportions import Suggestion
from acoustics.saying import Saying
from webapp.models import Pattern, PatternRevision
from webapp.pages.frame import designs
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import as_id
from webapp.shop.bench import came_out
from webapp.shop.learning import start_sizes
from webapp.shop.patterns import comparing, lists as pattern_list, real_head, rules as patterns
from webapp.shop.patterns.designing import suggestions
from webapp.shop.patterns.forms import DesignAsked, NoLongerProven, SavePattern, SaveRevision, SuggestionAsked
from webapp.shop.patterns.revisions import notes_of
from webapp.shop.people import diary
from webapp.shop.routings.steps_of_the_body import ALLOWANCE
from webapp.shop.units.keys import parse_key, show_note

router = APIRouter()

TURNING = ALLOWANCE / 2
"""mm that the wall over the holes is thicker before the outside is turned: half of what planing leaves."""


@router.get("/patterns")
def show_list(desk: View) -> Response:
    params = desk.request.query_params
    typed, key, wrong = params.get("key", "").strip()[:20], None, None
    if typed:
        try:
            key = parse_key(typed)
        except ValueError as error:
            wrong = str(error)
    proven = params.get("show") == "proven"
    rows = [] if wrong else pattern_list.listed(desk.session, key, proven)
    return desk.render(
        "patterns/list.html",
        status=422 if wrong else 200,
        rows=rows,
        typed=typed,
        wrong=wrong,
        proven=proven,
        as_note=show_note,
    )


@router.get("/patterns/design")
def design(desk: View) -> Response:
    """The form, and beside it the designed flute. Only saving changes anything."""
    params = {name: value[:100] for name, value in desk.request.query_params.items()}
    form = Form({name: params[name].strip() for name in (*designs.FIELDS, "pattern", "against") if name in params})
    given = {name: value for name, value in form.values.items() if value}
    form.values = {"a4": f"{desk.shop.a4:g}"} | designs.USUAL | given
    if "key" not in given:
        return _design(desk, form, None)
    try:
        asked = form.read(DesignAsked, desk.who.units)
        designed = patterns.design_for(desk.session, asked)
    except Invalid as error:
        return _design(desk, form.failed(error), None, 422)
    form.values["name"] = patterns.suggest_name(desk.session, asked, designed)
    return _design(desk, form, designs.show_design(desk, designed))


@router.post("/patterns/design")
def save(desk: Act) -> Response:
    def rule(form: Form) -> PatternRevision:
        asked = form.read(DesignAsked, desk.who.units)
        patterns.design_for(desk.session, asked)  # errors of the flute come before those of its name
        if pattern := _pattern_named(desk, form):
            assert pattern.id is not None
            return patterns.save_revision(desk.session, desk.who, pattern.id, asked, form.read(SaveRevision))
        return patterns.save_pattern(desk.session, desk.who, asked, form.read(SavePattern))

    return desk.submit(
        rule,
        again=lambda form, status: _design(desk, form, _design_of(desk, form), status),
        to=lambda revision: f"/patterns/{revision.pattern_id}/{revision.number}",
    )


@router.get("/patterns/{pattern_id}")
def show_pattern(desk: View, pattern_id: int) -> Response:
    pattern = patterns.pattern_of(desk.session, pattern_id)
    rows = pattern_list.revisions(desk.session, pattern_id)
    best = next((row.revision for row in rows if row.revision.proven_at), rows[0].revision if rows else None)
    return desk.render(
        "patterns/pattern.html",
        pattern=pattern,
        rows=rows,
        best=best,
        shown=designs.show_saved(desk, best) if best else None,
        entries=diary.read(desk.session, desk.who, "pattern", pattern_id),
        as_note=show_note,
        **_outcome(desk, best, all_revisions=True),
    )


@router.get("/patterns/{pattern_id}/{number}")
def show_revision(desk: View, pattern_id: int, number: int) -> Response:
    return _revision(desk, pattern_id, number)


@router.post("/patterns/{pattern_id}/{number}/proven")
def prove(desk: Act, pattern_id: int, number: int) -> Response:
    return desk.submit(
        lambda form: patterns.mark_proven(desk.session, desk.who, pattern_id, number),
        again=lambda form, status: _revision(desk, pattern_id, number, form, status),
        to=f"/patterns/{pattern_id}/{number}",
    )


@router.post("/patterns/{pattern_id}/{number}/no-longer-proven")
def unprove(desk: Act, pattern_id: int, number: int) -> Response:
    return desk.submit(
        lambda form: patterns.no_longer_proven(desk.session, desk.who, pattern_id, number, form.read(NoLongerProven)),
        again=lambda form, status: _revision(desk, pattern_id, number, form, status),
        to=f"/patterns/{pattern_id}/{number}",
    )


@router.post("/patterns/{pattern_id}/{number}/real-head")
def give_head(desk: Act, pattern_id: int, number: int) -> Response:
    """Both predictions then stand side by side."""
    return desk.submit(
        lambda form: real_head.give_real_head(desk.session, desk.who, pattern_id, number),
        again=lambda form, status: _revision(desk, pattern_id, number, form, status),
        to=lambda made: f"/patterns/{pattern_id}/compare?first={number}&second={made.number}",
    )


def _revision(desk: Desk, pattern_id: int, number: int, form: Form | None = None, status: int = 200) -> Response:
    pattern = patterns.pattern_of(desk.session, pattern_id)
    revision = patterns.revision_of(desk.session, pattern_id, number)
    instrument = patterns.instrument_of(revision)
    return desk.render(
        "patterns/revision.html",
        status=status,
        pattern=pattern,
        revision=revision,
        row=next(row for row in pattern_list.revisions(desk.session, pattern_id) if row.revision.number == number),
        instrument=instrument,
        headless=not real_head.has_real_head(instrument),
        shown=designs.show_saved(desk, revision),
        again=_again(desk, pattern, revision),
        start=start_sizes.start_of(desk.session, pattern, revision, TURNING),
        turning=TURNING,
        names={note.fingering: note.note for note in notes_of(revision)},
        form=form or Form(),
        as_note=show_note,
        **_outcome(desk, revision),
    )


def _outcome(desk: Desk, revision: PatternRevision | None, all_revisions: bool = False) -> dict[str, Any]:
    found = came_out.came_out(desk.session, revision, all_revisions) if revision else None
    return {
        "outcome": found,
        "most_rings": designs.MOST_RINGS,
        "outcome_picture": designs.outcome_picture(found, desk.shop.tolerance_cents) if found else None,
    }


def _again(desk: Desk, pattern: Pattern, revision: PatternRevision) -> str:
    """The design form filled with this revision's request, to save a new revision."""
    asked = designs.as_typed(revision.request, desk.who.units) | {
        "pattern": str(pattern.id),
        "against": str(revision.number),
    }
    return "/patterns/design?" + urlencode({name: value for name, value in asked.items() if value})


def _design_of(desk: Desk, form: Form) -> designs.Shown | None:
    """The flute that a form asks for, where it asks for one that can be designed."""
    try:
        return designs.show_design(desk, patterns.design_for(desk.session, form.read(DesignAsked, desk.who.units)))
    except Invalid:
        return None


def _design(desk: Desk, form: Form, shown: designs.Shown | None, status: int = 200) -> Response:
    pattern = _pattern_named(desk, form)
    against = _against(desk, form, pattern)
    alone = desk.wants_fragment and desk.request.method == "GET"
    context: dict[str, Any] = designs.choices() | {
        "as_note": show_note,
        "pattern": pattern,
        "against": against,
        "suggested": _suggested(desk, form),
        "reason": lambda text: designs.spoken([Saying.again(text)], desk.who.units)[0],
        "fields": designs.FIELDS,
        "alone": alone,
        # The fields that are replaced where the result is sent alone: wrong now, or wrong before.
        "again": _touched(desk, form),
    }
    if against and shown:
        context |= {
            "dimensions": comparing.dimensions(patterns.instrument_of(against), shown.instrument),
            "notes": comparing.notes(notes_of(against), shown.notes),
        }
    block = "result" if alone else None
    return desk.render("patterns/design.html", block, status=status, form=form, shown=shown, **context)


def _touched(desk: Desk, form: Form) -> list[str]:
    before = desk.request.query_params.get("was_wrong", "")[:400].split()
    return [name for name in designs.FIELDS if name in form.errors or name in before]


def _against(desk: Desk, form: Form, pattern: Pattern | None) -> PatternRevision | None:
    """The saved revision that a new one is compared with: the one it started from, else the newest."""
    if pattern is None or pattern.id is None:
        return None
    rows = pattern_list.revisions(desk.session, pattern.id)
    wanted = as_id(form.values.get("against", ""))
    return next((row.revision for row in rows if row.revision.number == wanted), rows[0].revision if rows else None)


def _suggested(desk: Desk, form: Form) -> list[Suggestion]:
    """The usual sizes for the key that was typed, if it can be read."""
    given = {name: form.values.get(name, "") for name in ("key", "a4", "bore", "wall") if name not in form.errors}
    try:
        asked = Form(given).read(SuggestionAsked, desk.who.units)
    except Invalid:
        return []
    return suggestions(asked)


def _pattern_named(desk: Desk, form: Form) -> Pattern | None:
    """The pattern of which a new revision is being designed, if any. Raises NotFound."""
    text = str(form.values.get("pattern", ""))
    if not text:
        return None
    return patterns.pattern_of(desk.session, as_id(text) or 0)
