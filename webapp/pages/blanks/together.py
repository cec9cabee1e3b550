"""Several blanks at once: chosen on the rack or scanned one after another, their next step in one entry."""

from collections.abc import Sequence
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from fastapi.responses import Response
from sqlmodel import col, select

from webapp.models import Blank, BlankStep, Outcome, StepKind, StepRecord, now
from webapp.pages.frame import drawn
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.times import clock, when
from webapp.shop.base.errors import Invalid, NotFound
from webapp.shop.base.finding import find
from webapp.shop.blanks import lists as blank_list
from webapp.shop.production import together
from webapp.shop.production.stages import RecordStep
from webapp.shop.units.lengths import show_gauge

router = APIRouter()


@router.get("/together")
def show(desk: View) -> Response:
    chosen, unknown = _chosen(desk)
    return _page(desk, chosen, Form({}, {"serial": unknown} if unknown else None), 422 if unknown else 200)


@router.post("/together")
def record(desk: Act) -> Response:
    sent = desk.form("blank", "step").values
    blanks = _by_ids(desk, sent["blank"])

    def rule(form: Form) -> list[StepRecord]:
        steps = [int(step) for step in form.values["step"] if step.isascii() and step.isdigit() and len(step) < 10]
        return together.record(desk.session, desk.who, steps, {step: _asked(desk, form, step) for step in steps})

    def to(made: Sequence[StepRecord]) -> str:
        failed = [one for one in made if one.outcome is Outcome.FAILED]
        said = f"Recorded for {len(made)} blanks." if len(made) > 1 else "Recorded."
        if failed:
            serials = ", ".join(find(desk.session, Blank, one.blank_id, "blank").serial for one in failed)
            said = f"{said} Did not pass: {serials}."
        return f"{address([blank.id or 0 for blank in blanks])}&{urlencode({'said': said}, quote_via=quote)}"

    return desk.submit(
        rule,
        again=lambda form, status: _page(desk, blanks, form, status),
        to=to,
        lists=["blank", "step"],
    )


def address(ids: Sequence[int]) -> str:
    """The page of these blanks together."""
    return f"/together?{urlencode([('blank', one) for one in ids])}"


def _asked(desk: Desk, form: Form, step: int) -> RecordStep:
    """What is recorded at one of the steps: its own size, which is the nominal one where the button says so."""
    own = {name: form.values.get(f"{name}-{step}", "") for name in ("value", "no_picture")}
    own["why"] = form.values.get(f"why-{step}") or form.values.get("why", "")
    own["note"] = form.values.get("note", "")
    if form.values.get("just") and not own["value"]:
        nominal = find(desk.session, BlankStep, step, "step").nominal
        own["value"] = f"{nominal!r} mm" if nominal is not None else ""
    try:
        return Form(own).read(RecordStep, desk.who.units)
    except Invalid as error:
        raise Invalid({f"{name}-{step}": said for name, said in error.errors.items()}) from error


def _chosen(desk: Desk) -> tuple[list[Blank], str]:
    """The blanks that the address names, by id or serial, each once; and what is wrong with a serial."""
    query = desk.request.query_params
    blanks, wrong = _by_ids(desk, query.getlist("blank")), ""
    for serial in query.getlist("serial")[: together.MOST]:
        if not (typed := serial.strip()[:40]):
            continue
        found = blank_list.by_part_of_serial(desk.session, typed)
        if len(found) == 1 or (found and found[0].blank.serial.lower() == typed.lower()):
            blanks.append(found[0].blank)
        else:
            wrong = f"{typed}: {'several serials have that in them.' if found else 'no serial has that in it.'}"
    return list({blank.id: blank for blank in blanks}.values())[: together.MOST], wrong


def _by_ids(desk: Desk, typed: Sequence[str]) -> list[Blank]:
    ids = [int(one) for one in typed if one.isascii() and one.isdigit() and len(one) < 10][: together.MOST]
    found = {blank.id: blank for blank in desk.session.exec(select(Blank).where(col(Blank.id).in_(ids)))}
    if typed and not found:
        raise NotFound("There are no such blanks.")
    return [found[one] for one in dict.fromkeys(ids) if one in found]


def _page(desk: Desk, blanks: Sequence[Blank], form: Form, status: int = 200) -> Response:
    session = desk.session
    ids = [blank.id or 0 for blank in blanks]
    seen = {one.blank.id: one for one in blank_list.seen(session, ids)}
    pairs = together.next_steps(session, [one.blank for one in seen.values()])
    drawings, scale = drawn.all_small(session, list(seen.values()))
    moment = now()
    return desk.render(
        "blanks/together.html",
        status=status,
        form=form,
        ids=ids,
        seen=seen,
        groups=together.groups(pairs),
        rest=[one for one in seen.values() if one.blank.id not in {blank.id for _, blank in pairs}],
        apart=together.APART,
        glue_up=StepKind.GLUE_UP,
        early=lambda blank: blank.waits_until is not None and blank.waits_until > moment,
        drawings=drawings,
        scale=scale,
        gauge=lambda mm: show_gauge(mm, desk.who.units),
        address_of=drawn.address,
        without=lambda blank_id: address([one for one in ids if one != blank_id]) if len(ids) > 1 else "/",
        clock=lambda at: clock(at, desk.shop),
        when=lambda one: when(one, desk.shop),
    )
