"""Which keys a blank can still become, and what each needs."""

from fastapi import APIRouter
from fastapi.responses import Response

from acoustics.notes.charts import SCALES
from webapp.drawings.charts.fingering import ChartNote, fingering_chart
from webapp.models import PatternRevision
from webapp.pages.frame import designs
from webapp.pages.frame.desk import View
from webapp.pages.frame.forms import Form
from webapp.shop.advice import other_keys
from webapp.shop.advice.other_keys import Key, OtherKeysAsked
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.blanks import state as blank_state
from webapp.shop.patterns import rules as patterns
from webapp.shop.units.keys import show_note
from webapp.shop.units.lengths import show_length

router = APIRouter()


@router.get("/blanks/{serial}/other-keys")
def show(desk: View, serial: str) -> Response:
    blank = blank_state.by_serial(desk.session, serial)
    revision = find(desk.session, PatternRevision, blank.revision_id, "revision")
    pattern = patterns.pattern_of(desk.session, revision.pattern_id)
    now = other_keys.as_it_is(desk.session, blank)
    params = desk.request.query_params
    usual = {
        "scale": pattern.scale,
        "holes": str(pattern.holes),
        "foot": show_length(now.flute.foot_x, desk.who.units, exact=True),
    }
    for number, size in enumerate(now.sizes, 1):
        usual[f"hole_{number}"] = "" if size is None else show_length(size, desk.who.units, exact=True)
    form = Form(usual | {name: params[name].strip()[:60] for name in usual if name in params})
    keys: list[Key] = []
    try:
        asked = form.read(OtherKeysAsked, desk.who.units)
        keys = other_keys.keys(desk.session, blank, now, asked, desk.who.units)
    except Invalid as error:
        form = form.failed(error)
    return desk.render(
        "patterns/other_keys.html",
        status=422 if form.errors else 200,
        blank=blank,
        pattern=pattern,
        now=now,
        form=form,
        drilled=any(form.values[f"hole_{number}"] for number in range(1, len(now.sizes) + 1)),
        warnings={key.becoming.key: designs.spoken(key.becoming.design.warnings, desk.who.units) for key in keys},
        keys=keys,
        charts={key.becoming.key: _chart(key, desk.shop.tolerance_cents) for key in keys if key.becoming.possible},
        scales=list(SCALES),
        as_note=show_note,
    )


def _chart(key: Key, tolerance: float) -> str:
    notes = [ChartNote(n.fingering, show_note(n.note), n.cents) for n in key.becoming.design.notes]
    return fingering_chart(notes, tolerance=tolerance)
