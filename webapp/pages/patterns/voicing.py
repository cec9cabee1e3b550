"""Voicing of a revision: where each note speaks and overblows, as a chart and in figures. A guide only."""

from fastapi import APIRouter
from fastapi.responses import Response

from acoustics.errors import InvalidInput
from acoustics.model.voicing import ISING_BEST, Voicing, ising_number, jet_speed, voicing
from webapp.drawings.charts.voicing import VoicedNote, voicing_chart
from webapp.pages.frame.desk import View
from webapp.shop.bench.readings import goals_of
from webapp.shop.patterns import rules as patterns
from webapp.shop.settings import air
from webapp.shop.units.keys import show_note

router = APIRouter()


@router.get("/patterns/{pattern_id}/{number}/voicing")
def show(desk: View, pattern_id: int, number: int) -> Response:
    pattern = patterns.pattern_of(desk.session, pattern_id)
    revision = patterns.revision_of(desk.session, pattern_id, number)
    flute = patterns.instrument_of(revision)
    goals = goals_of(revision, pattern)
    medium = air.played(desk.shop)
    found: Voicing | None = None
    reason = ""
    try:
        found = voicing(flute, medium, [goal.fingering for goal in goals])
    except InvalidInput as refused:
        reason = refused.limit
    rows = []
    if found and flute.flue:
        depth, cut_up = flute.flue.depth, flute.window.length
        middle = jet_speed(found.pressure, medium, depth, flute.flue.length)
        rows = [
            {
                "name": show_note(goal.note),
                "speaking": note,
                "ising": ising_number(middle, note.frequency, cut_up, depth),
            }
            for goal, note in zip(goals, found.notes, strict=True)
        ]
    chart = None
    if found:
        voiced = [
            VoicedNote(show_note(goal.note), note.starts, note.best, note.overblows)
            for goal, note in zip(goals, found.notes, strict=True)
        ]
        chart = voicing_chart(voiced, found.common, found.curve)
    return desk.render(
        "patterns/voicing.html",
        pattern=pattern,
        revision=revision,
        found=found,
        reason=reason,
        rows=rows,
        chart=chart,
        best=ISING_BEST,
        as_note=show_note,
    )
