"""One blank at the tuning bench: its notes against their targets, the next cut, what was read and cut so far."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any
from urllib.parse import quote, urlencode

from fastapi.responses import Response
from sqlmodel import select

from webapp.drawings.charts.cents import BarNote, cents_bars
from webapp.drawings.charts.dial import dial
from webapp.models import Blank, BlankStatus, Degrees, Person, Reading, Role, Shop, Stage, StepKind, StepState
from webapp.pages.bench import heard as bench_heard, next_cut as bench_next, voicing as bench_voicing
from webapp.pages.bench.learning import keep_up
from webapp.pages.frame.desk import Desk
from webapp.pages.frame.forms import Form
from webapp.shop.advice import next_cut as advice
from webapp.shop.advice.next_cut import Advised
from webapp.shop.base.finding import find
from webapp.shop.bench import cuts, final_sizes, hearing, readings
from webapp.shop.bench.hearing import RoomAir, Sounded
from webapp.shop.bench.readings import SOUNDING, Goal
from webapp.shop.blanks import lists as blank_list, state as blank_state
from webapp.shop.production.stages import BY_EAR
from webapp.shop.units import pitches
from webapp.shop.units.keys import show_note
from webapp.shop.units.temperatures import show_temperature

NOTHING: Mapping[str, tuple[float, float]] = {}


def address(blank: Blank) -> str:
    return f"/bench/{quote(blank.serial, safe='')}"


def carried(heard: Sequence[Sounded], room: RoomAir) -> str:
    """The part of an address that carries what was heard and not yet written down, and in which air."""
    if not heard:
        return ""
    told = {"temperature": f"{room.temperature:g} C", "humidity": f"{room.humidity:g}"}
    if room.warmed_up:
        told["warmed_up"] = "on"
    return f"?{urlencode({'heard': hearing.write(heard)} | told, safe='~,')}"


def page(
    desk: Desk,
    blank: Blank,
    form: Form | None = None,
    status: int = 200,
    heard: Sequence[Sounded] = (),
    room: Form | None = None,
    recording: Form | None = None,
    cutting: Form | None = None,
) -> Response:
    """The bench with one blank. `form`: the reading typed; `heard` in the air of `room`; `recording`, `cutting`: their
    forms."""
    session, shop = desk.session, desk.shop
    assert blank.id is not None
    [seen] = blank_list.seen(session, [blank.id])
    goals = readings.goals_for(session, blank)
    every = readings.of_blank(session, blank.id)
    # What was read at voicing was another flute: square, without finger holes.
    last = readings.latest([r for r in every if (r.stage is Stage.VOICING) == (blank.stage is Stage.VOICING)])
    here = readings.latest(every, blank.stage)
    newest = readings.counted(every)[-1] if readings.counted(every) else None
    aim = readings.aim(shop, blank.stage)
    upcoming = next((s for s in blank_state.steps_of(session, blank.id) if s.state is not StepState.PASSED), None)
    sounds = blank.stage in SOUNDING and blank.status in (BlankStatus.IN_WORK, BlankStatus.FINISHED)
    voicing = upcoming is not None and upcoming.kind is StepKind.FUNDAMENTAL
    made = cuts.of_blank(session, blank.id)
    keep_up(desk)
    person = find(session, Person, desk.who.id, "person")
    by_drills = bool(person.by_drills)
    advised = advice.for_blank(session, shop, blank, goals, every, made, by_drills)
    since = cuts.since(readings.counted(every), made)
    lowest = last.get(goals[0].fingering) if voicing else None
    predicted = bench_voicing.shown(session, shop, blank, lowest) if voicing else None
    start = _start(shop, desk.who.degrees, goals, here, newest, voicing, advised)
    return desk.render(
        "bench/bench.html",
        status=status,
        blank=blank,
        seen=seen,
        sounds=sounds,
        voicing=voicing,
        step=upcoming if upcoming and upcoming.kind in BY_EAR and blank.status is BlankStatus.IN_WORK else None,
        aim=aim,
        low=-shop.fundamental_low_cents,
        bars=cents_bars(bars(goals, last, advised.notes if advised else {}, since), tolerance=shop.tolerance_cents),
        any_old=any(reading.id in since for reading in last.values()),
        by_drills=by_drills,
        predicted=predicted,
        can_be_brought_up=bench_voicing.can_be_brought_up(predicted, shop),
        advice=bench_next.shown(advised, goals, desk.who.units),
        drill_marks=bench_next.drill_marks(session, advised) if sounds else [],
        cutting=bench_next.form(cutting, advised, desk.who.units),
        sizes=bench_next.sizes(session, blank, made, desk.who.units) if sounds else [],
        cut_rows=bench_next.rows(session, made),
        sizes_link=desk.who.role is not Role.VIEWER and final_sizes.are_missing(session, blank),
        goals=[(g.fingering, f"{show_note(g.note)}", f"{g.frequency:.1f} Hz") for g in goals],
        newest=_said(newest, shop, aim) if newest else None,
        rows=_rows(desk, every, since),
        form=form or Form(start),
        recording=bench_heard.recording_form(recording, start),
        dial=dial(shop.tolerance_cents, aim),
        heard=bench_heard.rows(heard, room or Form(), hearing.awaited(goals, blank), shop, aim),
        heard_text=hearing.write(heard),
        note=show_note,
    )


def bars(
    goals: list[Goal],
    last: dict[str, Reading],
    believed: Mapping[str, tuple[float, float]] = NOTHING,
    left_behind: Collection[int | None] = (),
) -> list[BarNote]:
    """Each note of the pattern with its last reading, where it is believed to stand now, and the prediction; of the
    readings `left_behind` (by their ids) the flute has been cut since."""
    return [
        BarNote(
            goal.fingering,
            show_note(goal.note),
            cents=last[goal.fingering].cents if goal.fingering in last else None,
            predicted=goal.predicted,
            old=goal.fingering in last and last[goal.fingering].id in left_behind,
            believed=believed.get(goal.fingering) if goal.fingering in last else None,
        )
        for goal in goals
    ]


def _said(reading: Reading, shop: Shop, aim: float) -> dict[str, Any]:
    """The newest reading in words, raw and corrected."""
    raw = readings.raw_cents(reading)
    judged = pitches.verdict(reading.cents, shop.tolerance_cents, readings.aim(shop, reading.stage))
    return {
        "reading": reading,
        "word": judged.word,
        "off": pitches.say(reading.cents),
        "aim": readings.aim(shop, reading.stage),
        "raw": raw,
        "correction": reading.cents - raw,
    }


def _rows(desk: Desk, every: list[Reading], since: Mapping[int, list[int]]) -> list[dict[str, Any]]:
    """All readings, newest first, those taken back struck through; with what was cut since each."""
    people = dict(desk.session.exec(select(Person.id, Person.name)).all())
    gone = {reading.corrects_id: reading for reading in every if reading.taken_back}
    rows = []
    for reading in reversed([r for r in every if not r.taken_back]):
        aim = readings.aim(desk.shop, reading.stage)
        rows.append(
            {
                "reading": reading,
                "by": people.get(reading.by, ""),
                "gone": gone.get(reading.id),
                "raw": readings.raw_cents(reading),
                "since": [cuts.name(control) for control in since.get(reading.id or 0, [])],
                "word": pitches.verdict(reading.cents, desk.shop.tolerance_cents, aim).word,
            }
        )
    return rows


def _start(
    shop: Shop,
    degrees: Degrees,
    goals: list[Goal],
    here: dict[str, Reading],
    newest: Reading | None,
    voicing: bool,
    advised: Advised | None,
) -> dict[str, Any]:
    """What the form begins with: the note that is advised, else the next that was not read at this stage; the air of
    the last reading."""
    known = [goal.fingering for goal in goals]
    following = next((fingering for fingering in known if fingering not in here), known[0])
    if advised is not None and advised.fingering in known:
        following = advised.fingering
    return {
        "fingering": known[0] if voicing else following,
        "temperature": show_temperature(newest.temperature if newest else shop.bench_temperature, degrees),
        "humidity": f"{100 * (newest.humidity if newest else shop.bench_humidity):.3g}",
        "warmed_up": "on" if newest is None or newest.warmed_up else "",
    }
