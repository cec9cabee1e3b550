"""The owner's care sheet: the flute's own fingering chart, and how to treat it."""

from dataclasses import dataclass

from sqlmodel import Session

from acoustics.flute.instrument import Instrument
from webapp.drawings.charts.fingering import ChartNote
from webapp.drawings.charts.hole_chart import hole_chart
from webapp.models import Paper, Pattern, PatternRevision, Shop, Species
from webapp.paper.office.letters import ORIGIN, SIDE
from webapp.paper.press import measures
from webapp.paper.press.jobs import Job
from webapp.paper.press.qr import qr_svg
from webapp.paper.press.sheets import SHEETS, job
from webapp.shop.base.errors import Refused
from webapp.shop.base.finding import find
from webapp.shop.bench import readings
from webapp.shop.bench.readings import SOUNDING
from webapp.shop.blanks.state import by_serial
from webapp.shop.flute_pages import address
from webapp.shop.flute_pages.content import as_it_is
from webapp.shop.orders.price_customs import customs
from webapp.shop.units.keys import show_note
from webapp.shop.units.temperatures import show_temperature
from webapp.shop.wood import species as woods

CHART, SMALL_CHART = 74.0, 50.0  # mm high at most
CODE = 25.0  # mm, quiet zone included


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
    finished: str
    instrument: Instrument
    as_cut: bool  # whether the holes are drawn as they were really cut, or as the pattern has them
    notes: tuple[ChartNote, ...]
    temperature: str
    cautions: tuple[str, ...]
    address: str  # of the flute's own page; empty where it has none


def care_sheet(session: Session, serial: str, public_url: str) -> CareSheet:
    """The sheet of one flute, with the code of its own page where that is open.

    Raises NotFound; Refused before it has a voice.
    """
    blank = by_serial(session, serial)
    if blank.stage not in SOUNDING:
        raise Refused(f"{blank.serial} is at {blank.stage}: it has no voice yet that a care sheet could show.")
    shop = find(session, Shop, 1, "shop")
    revision = find(session, PatternRevision, blank.revision_id, "revision")
    pattern = find(session, Pattern, revision.pattern_id, "pattern")
    species = find(session, Species, blank.species_id, "wood")
    instrument, as_cut = as_it_is(session, blank)
    path = address.path_of(session, blank)
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
        finished=measures.day_of(blank.finished_at, shop.timezone) if blank.finished_at else "",
        instrument=instrument,
        as_cut=as_cut,
        notes=tuple(ChartNote(goal.fingering, goal.note) for goal in goals),
        temperature=show_temperature(shop.bench_temperature, shop.degrees),
        cautions=tuple(woods.owners_cautions(species)),
        address=f"{public_url.rstrip('/')}{path}" if path else "",
    )


def care_job(sheet: CareSheet) -> Job:
    """One page: what does not fit is set closer, then with a smaller chart."""
    common: dict[str, object] = {
        "s": sheet,
        "origin": ORIGIN.format(shop=sheet.shop),
        "qr": qr_svg(sheet.address, CODE, f"Page of {sheet.serial}") if sheet.address else "",
    }
    tries = (("", CHART), ("close", CHART), ("close", SMALL_CHART))
    return job("care.html", "letter.css", [common | _chart(sheet, high) | {"density": d} for d, high in tries], 1)


def _chart(sheet: CareSheet, high: float) -> dict[str, object]:
    if not sheet.notes or not sheet.instrument.holes:
        return {"chart": None, "scale": "0"}
    chart, scale = hole_chart(sheet.instrument, sheet.notes, SHEETS[sheet.paper][0] - 2 * SIDE, high)
    return {"chart": chart, "scale": f"{scale:.1f}"}
