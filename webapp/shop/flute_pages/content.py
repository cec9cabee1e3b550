"""What stands on a flute's page: the flute itself, how it was tuned when it left, how to keep it. No person."""

from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from sqlmodel import Session

from acoustics.flute.instrument import Instrument
from webapp.models import Blank, BlankStatus, Pattern, PatternRevision, Shop, Species
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.bench import cuts, readings
from webapp.shop.flute_pages.rules import settings
from webapp.shop.orders import repair_state
from webapp.shop.units.keys import show_note
from webapp.shop.wood import species as woods


@dataclass(frozen=True, slots=True)
class Note:
    """One note: its fingering, and how far it was from its target when the flute left [cents]; None: not read."""

    name: str
    fingering: str
    cents: float | None


@dataclass(frozen=True, slots=True)
class FlutePage:
    """All that the page says."""

    shop: str
    is_demo: bool
    serial: str
    key: str
    scale: str
    pitch: str
    wood: str
    colour: str
    finished: date | None
    instrument: Instrument
    as_cut: bool
    notes: tuple[Note, ...]
    tolerance: float
    air: str
    cautions: tuple[str, ...]
    finish_care: str
    warranty: str


def page_of(session: Session, blank: Blank) -> FlutePage:
    """What the page of this flute says, whether it is open or not."""
    shop = find(session, Shop, 1, "shop")
    revision = find(session, PatternRevision, blank.revision_id, "revision")
    pattern = find(session, Pattern, revision.pattern_id, "pattern")
    species = find(session, Species, blank.species_id, "wood")
    instrument, as_cut = as_it_is(session, blank)
    temperament = "" if pattern.temperament == "equal" else f", {pattern.temperament} temperament"
    said = settings(session)
    finished = blank.finished_at.astimezone(ZoneInfo(shop.timezone)).date() if blank.finished_at else None
    return FlutePage(
        shop=shop.name,
        is_demo=shop.is_demo,
        serial=blank.serial,
        key=show_note(blank.key),
        scale=pattern.scale,
        pitch=f"A4 = {pattern.a4:g} Hz{temperament}",
        wood=species.name,
        colour=species.colour,
        finished=finished,
        instrument=instrument,
        as_cut=as_cut,
        notes=_notes(session, blank, revision, pattern),
        tolerance=shop.tolerance_cents,
        air=f"{shop.played_temperature:g} °C, {100 * shop.played_humidity:.0f} % humidity",
        cautions=tuple(woods.owners_cautions(species)),
        finish_care=said.finish_care,
        warranty=said.warranty,
    )


def as_it_is(session: Session, blank: Blank) -> tuple[Instrument, bool]:
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


def _notes(session: Session, blank: Blank, revision: PatternRevision, pattern: Pattern) -> tuple[Note, ...]:
    """Each note with its last reading; while the flute is here for a repair, the last before that began."""
    assert blank.id is not None
    every = readings.counted(readings.of_blank(session, blank.id))
    repair = repair_state.under_way(session, blank.id) if blank.status is BlankStatus.IN_WORK else None
    if repair and (begun := repair.begun_at):
        every = [reading for reading in every if reading.at < begun]
    last = {reading.fingering: reading.cents for reading in every}
    goals = readings.goals_of(revision, pattern)
    return tuple(Note(goal.note, goal.fingering, last.get(goal.fingering)) for goal in goals)
