"""An ordered flute's pattern: the proven one if the shop has it, else one designed on the spot."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Order, OrderedFlute
from webapp.pages.frame import designs
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid
from webapp.shop.orders import flutes as ordered_flutes, rules as orders
from webapp.shop.orders.forms import ChoosePattern, Version
from webapp.shop.patterns import rules as patterns
from webapp.shop.patterns.forms import DesignAsked, SavePattern
from webapp.shop.units.keys import show_note
from webapp.shop.units.lengths import show_length

router = APIRouter()

SIZES = ("outside", "drills", "second_register_weight", *designs.LENGTHS)


@router.get("/orders/{number}/flutes/{flute_id}/pattern")
def ask(desk: View, number: int, flute_id: int) -> Response:
    order = orders.order_of(desk.session, number)
    flute = ordered_flutes.flute_of(desk.session, order, flute_id)
    params = desk.request.query_params
    typed = {name: params[name].strip()[:100] for name in SIZES if name in params}
    return _page(
        desk,
        order,
        flute,
        Form(designs.USUAL | _fixed(desk, flute) | typed),
        designing=bool(typed) or "design" in params,
    )


@router.post("/orders/{number}/flutes/{flute_id}/pattern")
def choose(desk: Act, number: int, flute_id: int) -> Response:
    """Build the flute from a pattern that the shop has."""

    def rule(form: Form) -> None:
        asked = form.read(ChoosePattern)
        ordered_flutes.choose_pattern(desk.session, desk.who, number, flute_id, asked.revision_id, asked.version)

    return desk.submit(
        rule,
        again=lambda form, status: _again(desk, number, flute_id, Form(errors=form.errors), status),
        to=f"/orders/{number}#flute-{flute_id}",
    )


@router.post("/orders/{number}/flutes/{flute_id}/design")
def save_and_choose(desk: Act, number: int, flute_id: int) -> Response:
    """Keep the design as a pattern, and build the flute from it: both or neither."""

    def rule(form: Form) -> None:
        flute = ordered_flutes.flute_of(desk.session, orders.order_of(desk.session, number), flute_id)
        form.values |= _fixed(desk, flute) | {"reach": form.values.get("reach", "")}
        version = form.read(Version).version
        asked = form.read(DesignAsked, desk.who.units)
        revision = patterns.save_pattern(desk.session, desk.who, asked, form.read(SavePattern))
        assert revision.id is not None
        ordered_flutes.choose_pattern(desk.session, desk.who, number, flute_id, revision.id, version)

    return desk.submit(
        rule,
        again=lambda form, status: _again(desk, number, flute_id, form, status),
        to=f"/orders/{number}#flute-{flute_id}",
    )


def _again(desk: Desk, number: int, flute_id: int, form: Form, status: int) -> Response:
    """The page once more with what was refused."""
    order = orders.order_of(desk.session, number)
    flute = ordered_flutes.flute_of(desk.session, order, flute_id)
    designing = bool(form.values)
    form.values = designs.USUAL | _fixed(desk, flute) | form.values
    return _page(desk, order, flute, form, designing, status)


def _page(
    desk: Desk, order: Order, flute: OrderedFlute, form: Form, designing: bool = False, status: int = 200
) -> Response:
    found = patterns.fitting(desk.session, flute.key, flute.scale, flute.holes, flute.a4, flute.temperament)
    proven = next(((pattern, revision) for pattern, revision in found if revision.proven_at), None)
    shown = saved = None
    if proven:
        saved = designs.show_saved(desk, proven[1])
    if designing or not proven:
        try:
            asked = form.read(DesignAsked, desk.who.units)
            designed = patterns.design_for(desk.session, asked)
            shown = designs.show_design(desk, designed)
            form.values.setdefault("name", patterns.suggest_name(desk.session, asked, designed))
        except Invalid as error:
            form, status = Form(form.values, error.errors | form.errors), max(status, 422)
    spans = {revision.id: designs.span(patterns.instrument_of(revision)) for _, revision in found}
    return desk.render(
        "orders/pattern.html",
        status=status,
        order=order,
        flute=flute,
        found=found,
        proven=proven,
        saved=saved,
        shown=shown,
        designing=designing or not proven,
        spans=spans,
        form=form,
        fields=designs.FIELDS,
        labels=designs.LABELS,
        as_note=show_note,
    )


def _fixed(desk: Desk, flute: OrderedFlute) -> dict[str, str]:
    """What the order says about the flute, as the design form's fields; the reach may be typed over."""
    return {
        "key": flute.key,
        "scale": flute.scale,
        "holes": str(flute.holes),
        "a4": f"{flute.a4:.10g}",
        "temperament": flute.temperament,
        "reach": "" if flute.reach is None else show_length(flute.reach, desk.who.units, exact=True),
    }
