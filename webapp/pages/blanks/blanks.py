"""Blanks: the list, and one blank with its next step, all its steps, readings, papers and history."""

from itertools import groupby
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response
from sqlmodel import Session

from webapp.drawings.flute.dimensioned import dimensioned
from webapp.models import (
    Blank,
    BlankStatus,
    BlankStep,
    PatternRevision,
    Stage,
    StepKind,
    StepRecord,
    StepState,
    now,
)
from webapp.pages.frame import drawn, filters
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.drawn import address
from webapp.pages.frame.forms import Form
from webapp.pages.frame.times import WAITS, clock, today_of, when
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import find
from webapp.shop.bench import final_sizes, readings
from webapp.shop.blanks import hands, history, lists as blank_list, photos, state as blank_state
from webapp.shop.blanks.hands import GiveTo
from webapp.shop.patterns.revisions import instrument_of
from webapp.shop.production import defects, gauging, opening as blanks, order_of_work, repairs, stages
from webapp.shop.production.opening import GiveUp
from webapp.shop.production.stages import BY_EAR, RecordStep, TakeBack

router = APIRouter()


@router.get("/blanks")
def shelf_list(desk: View) -> Response:
    typed = filters.typed(desk.request)
    form = Form({"status": BlankStatus.IN_WORK, **typed})
    wanted, page = filters.wanted(form, desk.who.id)
    today = today_of(desk.shop)
    rows, more = blank_list.listed(desk.session, wanted, today, page) if not form.errors else ([], False)
    drawings, scale = drawn.all_small(desk.session, rows)
    kept = filters.kept(typed)
    return desk.render(
        "blanks/list.html",
        status=422 if form.errors else 200,
        form=form,
        rows=rows,
        more=more,
        page=page,
        kept=kept,
        drawings=drawings,
        scale=scale,
        stages=[(stage, stage.capitalize()) for stage in Stage],
        statuses=[*[(status, status.capitalize()) for status in BlankStatus], (filters.ALL, "All of them")],
        waiting=filters.WAITING,
        woods=filters.woods(desk.session),
        people=filters.people(desk.session),
        when=lambda one: when(one, desk.shop, one.is_late(today), said_whose=True),
        late=lambda one: one.is_late(today),
    )


@router.get("/blanks/{serial}")
def one(desk: View, serial: str) -> Response:
    return _page(desk, blank_state.by_serial(desk.session, serial))


@router.post("/blanks/{serial}/steps/{step_id}")
def record(desk: Act, serial: str, step_id: int) -> Response:
    blank = _own(desk, serial, step_id, BlankStep)
    here, said = address(blank), quote("Recorded.")
    return desk.submit(
        lambda form: stages.record(desk.session, desk.who, step_id, form.read(RecordStep, desk.who.units)),
        again=lambda form, status: _page(desk, blank, step_id, form, status),
        to=lambda made: _after(desk, blank, made) or (f"{here}#now" if made.why else f"{here}?said={said}#now"),
    )


def _after(desk: Desk, blank: Blank, made: StepRecord) -> str:
    """Where to go on after the step that ends tuning, while some final size was never told; empty for any other."""
    step = find(desk.session, BlankStep, made.step_id, "step")
    ends = step.kind is StepKind.READINGS and step.stage is Stage.TUNING and step.state is StepState.PASSED
    return (
        f"/bench/{quote(blank.serial, safe='')}/sizes" if ends and final_sizes.are_missing(desk.session, blank) else ""
    )


@router.get("/blanks/{serial}/entries/{record_id}")
def ask_take_back(desk: View, serial: str, record_id: int) -> Response:
    return _take_back_page(desk, _own(desk, serial, record_id, StepRecord), record_id, Form())


@router.post("/blanks/{serial}/entries/{record_id}")
def take_back(desk: Act, serial: str, record_id: int) -> Response:
    blank = _own(desk, serial, record_id, StepRecord)
    return desk.submit(
        lambda form: stages.take_back(desk.session, desk.who, record_id, form.read(TakeBack)),
        again=lambda form, status: _take_back_page(desk, blank, record_id, form, status),
        to=f"{address(blank)}?said={quote('Taken back. Both entries stay in the history.')}#now",
    )


def _take_back_page(desk: Desk, blank: Blank, record_id: int, form: Form, status: int = 200) -> Response:
    line = next(x for x in history.of_blank(desk.session, blank.id or 0) if x.of == "step" and x.id == record_id)
    return desk.render("blanks/take_back.html", status=status, blank=blank, line=line, form=form)


@router.post("/blanks/{serial}/give-up")
def give_up(desk: Act, serial: str) -> Response:
    blank = blank_state.by_serial(desk.session, serial)
    return desk.submit(
        lambda form: blanks.give_up(desk.session, desk.who, blank.id or 0, form.read(GiveUp)),
        again=lambda form, status: _page(desk, blank, status=status, give_up_form=form),
        to=address(blank),
    )


@router.post("/blanks/{serial}/hands")
def give_to(desk: Act, serial: str) -> Response:
    blank = blank_state.by_serial(desk.session, serial)
    return desk.submit(
        lambda form: hands.give_to(desk.session, desk.who, blank.id or 0, form.read(GiveTo)),
        again=lambda form, status: _page(desk, blank, status=status, hands_form=form),
        to=f"{address(blank)}#hands",
    )


def _own(desk: Desk, serial: str, row_id: int, table: type[BlankStep] | type[StepRecord]) -> Blank:
    """The blank of this serial, where the step or entry is one of its own. Raises NotFound."""
    blank = blank_state.by_serial(desk.session, serial)
    row: BlankStep | StepRecord = find(desk.session, table, row_id, "entry")
    if row.blank_id != blank.id:
        raise NotFound(f"Blank {blank.serial} has no such entry.")
    return blank


def _chosen(desk: Desk, steps: list[BlankStep], step_id: int | None) -> BlankStep | None:
    """The step to work on: the one asked for, else the first that is not passed."""
    asked = desk.request.query_params.get("step", "")
    wanted = step_id if step_id is not None else int(asked) if asked.isascii() and asked.isdigit() else None
    open_ones = [step for step in steps if step.state is not StepState.PASSED]
    return next((step for step in open_ones if step.id == wanted), open_ones[0] if open_ones else None)


def _page(
    desk: Desk,
    blank: Blank,
    step_id: int | None = None,
    form: Form | None = None,
    status: int = 200,
    give_up_form: Form | None = None,
    hands_form: Form | None = None,
) -> Response:
    session = desk.session
    assert blank.id is not None
    [seen] = blank_list.seen(session, [blank.id])
    revision = session.get(PatternRevision, blank.revision_id)
    assert revision is not None
    flute = instrument_of(revision)
    steps = blank_state.steps_of(session, blank.id)
    chosen = _chosen(desk, steps, step_id) if blank.status is BlankStatus.IN_WORK else None
    if form and chosen and chosen.id != step_id:
        # Someone else was quicker: what was typed belongs to another step, only what is to be said of it stays.
        form = Form({}, form.errors)
    give_up_form = give_up_form or Form()
    give_up_form.id = "give-up"
    lines = history.of_blank(session, blank.id)
    moment, today = now(), today_of(desk.shop)
    return desk.render(
        "blanks/blank.html",
        status=status,
        blank=blank,
        seen=seen,
        late=seen.is_late(today),
        steps=[(stage, list(members)) for stage, members in groupby(steps, key=lambda step: step.stage)],
        stage_number=list(Stage).index(blank.stage),
        now_step=chosen,
        may=_may(steps, blank),
        gauge=lambda mm: gauging.show(mm, desk.who.units),
        meanwhile=_meanwhile(steps, chosen, blank),
        no_picture_yet=bool(chosen and chosen.photo and not photos.count_for_step(session, chosen.id or 0)),
        early=blank.waits_until is not None and blank.waits_until > moment,
        by_ear=bool(chosen and chosen.kind in BY_EAR),
        glue_up=bool(chosen and chosen.kind is StepKind.GLUE_UP),
        entries=_entries(session, blank.id),
        form=form or Form(),
        give_up_form=give_up_form,
        hands_form=hands_form or Form({"hands_id": blank.hands_id}),
        people=hands.people(session),
        lines=list(reversed(lines)),
        repairs=repairs.of_blank(session, blank.id),
        drawing=drawn.small(blank, flute, seen.colour, blanks.progress(session, [blank.id])[blank.id]),
        dimensions=dimensioned(flute, units=desk.who.units),
        heard=_heard(session, blank),
        clock=lambda at: clock(at, desk.shop),
        waits=WAITS,
        pictures=photos.of_blank(session, blank.id),
        flaws=defects.of_blank(session, blank.id),
    )


def _may(steps: list[BlankStep], blank: Blank) -> set[int | None]:
    """The steps that may be recorded out of turn, by id."""
    if blank.status is not BlankStatus.IN_WORK or blank.waits_for in ("glue", "clamps"):
        return set()
    return {step.id for step in order_of_work.may_be_recorded(steps) if step.kind is not StepKind.GLUE_UP}


def _meanwhile(steps: list[BlankStep], chosen: BlankStep | None, blank: Blank) -> BlankStep | None:
    """What can be done on it while it waits in the clamps."""
    if blank.waits_for not in ("glue", "clamps"):
        return None
    return next((s for s in steps if s.while_waiting and s.state is not StepState.PASSED and s is not chosen), None)


def _entries(session: Session, blank_id: int) -> dict[int, StepRecord]:
    """The last entry that counts, of each step."""
    return {record.step_id: record for record in blank_state.counted(blank_state.records_of(session, blank_id))}


def _heard(session: Session, blank: Blank) -> list[tuple[str, float | None]]:
    """Each note of the pattern with its last reading in cents."""
    assert blank.id is not None
    last = readings.latest(readings.of_blank(session, blank.id))
    if not last:
        return []
    found = ((goal.note, last.get(goal.fingering)) for goal in readings.goals_for(session, blank))
    return [(note, reading.cents if reading else None) for note, reading in found]
