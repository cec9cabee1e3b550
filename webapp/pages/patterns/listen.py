"""A revision heard before it is cut: played in the browser, as a file, and what each note does under the breath."""

import io
import math
import wave
from collections.abc import Sequence
from typing import Annotated, Any

from fastapi import APIRouter
from fastapi.responses import Response
from pydantic import BaseModel, Field

from acoustics.blowing import sketch
from acoustics.blowing.sounding import OFFSET_SD, USUAL_PRESSURE, Sounding, soundings
from acoustics.errors import InvalidInput
from webapp.models import Pattern
from webapp.pages.frame.desk import Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid
from webapp.shop.bench import breath
from webapp.shop.bench.readings import Goal, goals_of
from webapp.shop.patterns import rules as patterns
from webapp.shop.settings import air
from webapp.shop.units import pitches
from webapp.shop.units.keys import show_note

router = APIRouter()

WAYS = (("steady", "each note at this breath"), ("swell", "the lowest note from nothing over its jump and back"))


class Breath(BaseModel):
    """How hard it is blown [Pa]."""

    pressure: Annotated[float, Field(ge=10, le=10_000)]


@router.get("/patterns/{pattern_id}/{number}/listen")
def show(desk: View, pattern_id: int, number: int) -> Response:
    return _page(desk, pattern_id, number)


@router.get("/patterns/{pattern_id}/{number}/listen.wav")
def sound_file(desk: View, pattern_id: int, number: int) -> Response:
    """The same as a file, for those whose browser plays nothing; with no tone in it, the page says why."""
    pattern, _, notes, _ = _heard(desk, pattern_id, number)
    try:
        pressure = _breath(desk).read(Breath).pressure
    except Invalid:
        return _page(desk, pattern_id, number)
    if not notes:
        return _page(desk, pattern_id, number)
    if desk.request.query_params.get("way") == "swell":
        played = [(notes[0], sketch.swell(notes[0]))]
    else:
        played = [(note, sketch.steady(pressure)) for note in notes]
    held = io.BytesIO()
    with wave.open(held, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(sketch.RATE)
        file.writeframes(sketch.play(played).astype("<i2").tobytes())
    headers = {
        "content-disposition": f'attachment; filename="pattern-{pattern.id}-r{number}-{pressure:.0f}-Pa.wav"',
        "cache-control": "private, no-cache",
    }
    return Response(held.getvalue(), media_type="audio/wav", headers=headers)


def _heard(desk: Desk, pattern_id: int, number: int) -> tuple[Pattern, list[Goal], Sequence[Sounding], str]:
    """The pattern, its notes, what they sound, and why they do not."""
    pattern = patterns.pattern_of(desk.session, pattern_id)
    revision = patterns.revision_of(desk.session, pattern_id, number)
    goals = goals_of(revision, pattern)
    try:
        flute = patterns.instrument_of(revision)
        notes = soundings(flute, air.played(desk.shop), tuple(goal.fingering for goal in goals))
    except InvalidInput as refused:
        return pattern, goals, (), refused.limit
    return pattern, goals, notes, ""


def _breath(desk: Desk) -> Form:
    params = desk.request.query_params
    return Form({"pressure": params.get("pressure", f"{USUAL_PRESSURE:g}")[:20], "way": params.get("way", WAYS[0][0])})


def _page(desk: Desk, pattern_id: int, number: int) -> Response:
    pattern, goals, notes, reason = _heard(desk, pattern_id, number)
    form = _breath(desk)
    pressure = USUAL_PRESSURE
    try:
        pressure = form.read(Breath).pressure
    except Invalid as error:
        form = form.failed(error)
    highest = max([1.6 * (n.overblows_at or 2.5 * (n.speaks_at or USUAL_PRESSURE)) for n in notes], default=1.0)
    return desk.render(
        "patterns/listen.html",
        status=422 if form.errors else 200,
        form=form,
        pattern=pattern,
        revision=patterns.revision_of(desk.session, pattern_id, number),
        reason=reason,
        pressure=pressure,
        ways=WAYS,
        offset_sd=OFFSET_SD,
        worth=breath.worth(notes, pressure),
        rows=[_row(goal, note, pressure) for goal, note in zip(goals, notes, strict=False)],
        voices=[sketch.document(note) for note in notes],
        # The slider goes in hundredths of the logarithm, so that it moves by shares and not by pascals.
        slider=(round(100 * math.log(60.0)), round(100 * math.log(highest)), round(100 * math.log(pressure))),
        as_note=show_note,
    )


def _row(goal: Goal, note: Sounding, pressure: float) -> dict[str, Any]:
    tone = note.tone(pressure)
    first = note.registers[min(note.registers)] if note.registers else None
    softest = first.pull(note.speaks_at) if first and note.speaks_at else None
    hardest = first.pull(note.overblows_at) if first and note.overblows_at else None
    return {
        "name": show_note(goal.note),
        "fingering": goal.fingering,
        "note": note,
        "tone": tone,
        "cents": None
        if tone.frequency is None or tone.register != 1
        else pitches.between(tone.frequency, goal.frequency),
        "harder": note.cents_of_breath(pressure),
        "band": None if softest is None or hardest is None else (softest, hardest),
    }
