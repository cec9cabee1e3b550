"""The owner's care sheet: the flute's own fingering chart, and how to treat it."""

from dataclasses import dataclass

from sqlmodel import Session

from acoustics.flute.instrument import Instrument
from webapp.drawings.charts.fingering import ChartNote
from webapp.drawings.charts.hole_chart import hole_chart
from webapp.models import Blank, Paper, Pattern, PatternRevision, Shop, Species
from webapp.paper.office.letters import ORIGIN, RESTRICTED, SIDE
from webapp.paper.press import measures
from webapp.paper.press.jobs import Job
from webapp.paper.press.sheets import SHEETS, job
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.base.finding import find
from webapp.shop.bench import cuts, readings
from webapp.shop.bench.readings import SOUNDING
from webapp.shop.blanks.state import by_serial
from webapp.shop.orders.price_customs import customs
from webapp.shop.units.keys import show_note
from webapp.shop.units.temperatures import show_temperature

CHART = 74.0  # mm high at most


@dataclass(frozen=True, slots=True)
class CareSheet:
    """Everything on one care sheet."""

    serial: str
    shop: str
    letterhead: str
    is_demo: bool
    paper: Paper
    key: str
    scale: str
    pitch: str
    wood: str
    restricted: bool
    finished: str
    instrument: Instrument
    as_cut: bool  # whether the holes are drawn as they were really cut, or as the pattern has them
    notes: tuple[ChartNote, ...]
    temperature: str


def care_sheet(session: Session, serial: str) -> CareSheet:
    """The sheet of one flute. Raises NotFound; Refused before it has a voice."""
    blank = by_serial(session, serial)
    if blank.stage not in SOUNDING:
        raise Refused(f"{blank.serial} is at {blank.stage}: it has no voice yet that a care sheet could show.")
    shop = find(session, Shop, 1, "shop")
    revision = find(session, PatternRevision, blank.revision_id, "revision")
    pattern = find(session, Pattern, revision.pattern_id, "pattern")
    species = find(session, Species, blank.species_id, "wood")
    instrument, as_cut = _as_it_is(session, blank)
    goals = readings.goals_of(revision, pattern)
    temperament = "" if pattern.temperament == "equal" else f", {pattern.temperament} temperament"
    return CareSheet(
        serial=blank.serial,
        shop=shop.name,
        letterhead=customs(session).pricing.letterhead,
        is_demo=shop.is_demo,
        paper=shop.paper,
        key=show_note(blank.key),
        scale=pattern.scale,
        pitch=f"A4 = {pattern.a4:g} Hz{temperament}",
        wood=species.name,
        restricted=species.restricted,
        finished=measures.day_of(blank.finished_at, shop.timezone) if blank.finished_at else "",
        instrument=instrument,
        as_cut=as_cut,
        notes=tuple(ChartNote(goal.fingering, goal.note) for goal in goals),
        temperature=show_temperature(shop.bench_temperature, shop.degrees),
    )


def _as_it_is(session: Session, blank: Blank) -> tuple[Instrument, bool]:
    """The flute with its holes as they were cut at the bench, where every one of them is known."""
    designed = cuts.designed(session, blank)
    assert blank.id is not None
    every = cuts.of_blank(session, blank.id)
    if not cuts.counted(every):
        return designed, False
    try:
        return cuts.as_cut(designed, cuts.after(cuts.at_first(session, blank), every)), True
    except Invalid:
        return designed, False


def care_job(sheet: CareSheet) -> Job:
    """One page."""
    chart, scale = None, 0.0
    if sheet.notes and sheet.instrument.holes:
        chart, scale = hole_chart(sheet.instrument, sheet.notes, SHEETS[sheet.paper][0] - 2 * SIDE, CHART)
    common: dict[str, object] = {
        "s": sheet,
        "chart": chart,
        "scale": f"{scale:.1f}",
        "origin": ORIGIN.format(shop=sheet.shop),
        "restricted": RESTRICTED.format(woods=sheet.wood) if sheet.restricted else "",
    }
    return job("care.html", "letter.css", [{**common, "density": density} for density in ("", "close")], 1)
