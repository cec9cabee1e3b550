"""A flute heard: what its notes do under the breath, played in the browser and as a sound file."""

import io
import math
import wave
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi.responses import Response
from pydantic import BaseModel, Field

from acoustics.blowing import sketch
from acoustics.blowing.sounding import OFFSET_SD, USUAL_PRESSURE, Sounding, soundings
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from webapp.models import Shop
from webapp.pages.frame.desk import Desk
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid
from webapp.shop.bench import breath
from webapp.shop.bench.readings import Goal
from webapp.shop.settings import air
from webapp.shop.units import pitches
from webapp.shop.units.keys import show_note

WAYS = (("steady", "each note at this breath"), ("swell", "the lowest note from nothing over its jump and back"))
SOFTEST = 60.0  # Pa, where the slider begins


class Breath(BaseModel):
    """How hard it is blown [Pa]."""

    pressure: Annotated[float, Field(ge=10, le=10_000)]


@dataclass(frozen=True, slots=True)
class Played:
    """A flute's notes and what each sounds; `reason`: why none does."""

    goals: Sequence[Goal]
    notes: Sequence[Sounding]
    reason: str = ""


def played(flute: Instrument, goals: Sequence[Goal], shop: Shop) -> Played:
    """In the shop's played air."""
    try:
        return Played(goals, soundings(flute, air.played(shop), tuple(goal.fingering for goal in goals)))
    except InvalidInput as refused:
        return Played(goals, (), refused.limit)


def sound_file(desk: Desk, flute: Played, name: str) -> Response | None:
    """A WAV at the breath that the address asks for; None where there is nothing to hear: the page says why."""
    try:
        pressure = _asked(desk).read(Breath).pressure
    except Invalid:
        return None
    if not flute.notes:
        return None
    if desk.request.query_params.get("way") == "swell":
        parts = [(flute.notes[0], sketch.swell(flute.notes[0]))]
    else:
        parts = [(note, sketch.steady(pressure)) for note in flute.notes]
    held = io.BytesIO()
    with wave.open(held, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(sketch.RATE)
        file.writeframes(sketch.play(parts).astype("<i2").tobytes())
    headers = {
        "content-disposition": f'attachment; filename="{name}-{pressure:.0f}-Pa.wav"',
        "cache-control": "private, no-cache",
    }
    return Response(held.getvalue(), media_type="audio/wav", headers=headers)


def page(desk: Desk, template: str, flute: Played, **context: Any) -> Response:
    """The page around `frame/_played.html`: 422 where what was asked for is no breath."""
    form, pressure = _asked(desk), USUAL_PRESSURE
    try:
        pressure = form.read(Breath).pressure
    except Invalid as error:
        form = form.failed(error)
    tops = [1.6 * (n.overblows_at or 2.5 * (n.speaks_at or USUAL_PRESSURE)) for n in flute.notes]
    # The slider goes in hundredths of the logarithm, so that it moves by shares and not by pascals.
    ends = (round(100 * math.log(one)) for one in (SOFTEST, max(tops, default=USUAL_PRESSURE), pressure))
    return desk.render(
        template,
        status=422 if form.errors else 200,
        form=form,
        reason=flute.reason,
        pressure=pressure,
        ways=WAYS,
        offset_sd=OFFSET_SD,
        worth=breath.worth(flute.notes, pressure),
        rows=[_row(goal, note, pressure) for goal, note in zip(flute.goals, flute.notes, strict=False)],
        voices=[sketch.document(note) for note in flute.notes],
        slider=tuple(ends),
        as_note=show_note,
        **context,
    )


def _asked(desk: Desk) -> Form:
    params = desk.request.query_params
    return Form({"pressure": params.get("pressure", f"{USUAL_PRESSURE:g}")[:20], "way": params.get("way", WAYS[0][0])})


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
