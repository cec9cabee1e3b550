"""Two revisions of a pattern side by side."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import PatternRevision
from webapp.pages.frame import designs
from webapp.pages.frame.desk import Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import as_id
from webapp.shop.patterns import comparing, lists as pattern_list, rules as patterns
from webapp.shop.patterns.revisions import notes_of
from webapp.shop.units.keys import show_note

router = APIRouter()


@router.get("/patterns/{pattern_id}/compare")
def compare(desk: View, pattern_id: int) -> Response:
    """Revision `first` beside revision `second`; the last two if none are given."""
    pattern = patterns.pattern_of(desk.session, pattern_id)
    found = {row.revision.number: row.revision for row in pattern_list.revisions(desk.session, pattern_id)}
    numbers = sorted(found)
    params = desk.request.query_params
    form = Form(
        {
            "first": params.get("first", str(numbers[-2] if len(numbers) > 1 else "")),
            "second": params.get("second", str(numbers[-1] if numbers else "")),
        }
    )
    errors = {name: "Choose one of the list." for name in ("first", "second") if as_id(form.values[name]) not in found}
    if errors and (len(numbers) > 1 or params):
        form = form.failed(Invalid(errors))
    pair = [found[as_id(form.values[name]) or 0] for name in ("first", "second")] if not errors else []
    return desk.render(
        "patterns/compare.html",
        status=422 if form.errors else 200,
        pattern=pattern,
        numbers=[(str(number), f"Revision {number}") for number in numbers],
        form=form,
        sides=[(revision, _shown(desk, revision)) for revision in pair],
        dimensions=comparing.dimensions(*map(patterns.instrument_of, pair)) if pair else [],
        notes=comparing.notes(notes_of(pair[0]), notes_of(pair[1])) if pair else [],
        as_note=show_note,
    )


def _shown(desk: Desk, revision: PatternRevision) -> designs.Shown:
    return designs.show_saved(desk, revision)
