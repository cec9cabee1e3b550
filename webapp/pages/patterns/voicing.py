"""Voicing of a revision: where each note speaks and overblows, as a chart and in figures. A guide only."""

from fastapi import APIRouter
from fastapi.responses import Response

from acoustics.blowing.voicing import Voicing, voicing
from acoustics.errors import InvalidInput
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
    chart = None
    if found:
        rows = [(show_note(goal.note), note) for goal, note in zip(goals, found.notes, strict=True)]
        voiced = [VoicedNote(name, note.starts, note.settles, note.overblows) for name, note in rows]
        chart = voicing_chart(voiced, found.common, found.curve)
    return desk.render(
        "patterns/voicing.html",
        pattern=pattern,
        revision=revision,
        found=found,
        reason=reason,
        rows=rows,
        chart=chart,
        as_note=show_note,
    )
