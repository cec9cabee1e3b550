"""What stands on a tuning record: the last reading of every note, with its air, against its target."""

from collections.abc import Mapping
from dataclasses import dataclass

from sqlmodel import Session, col, select

from webapp.models import Blank, Paper as PaperSize, Pattern, PatternRevision, Person, Reading, Shop, Species
from webapp.paper.press import measures
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import find
from webapp.shop.bench import breath, cuts, readings
from webapp.shop.flute_pages import address
from webapp.shop.units.temperatures import show_temperature, show_warmer


@dataclass(frozen=True, slots=True)
class NoteLine:
    """One note as printed; what was not read is empty. `cents` is the number itself, for the drawing."""

    name: str
    fingering: str
    target: str
    read: str
    off: str
    room: str
    stage: str
    when: str
    initials: str
    cents: float | None
    old: bool = False  # the flute was cut after it was read


@dataclass(frozen=True, slots=True)
class TuningRecord:
    """Everything on one tuning record, ready to print."""

    serial: str
    address: str
    shop: str
    is_demo: bool
    paper: PaperSize
    key: str
    scale: str
    pitch: str
    wood: str
    pattern: str
    finished: str
    tolerance: float
    air: str
    warmer: str  # what is worth about 6 cents
    notes: tuple[NoteLine, ...]
    breath: str  # what the breath is worth, empty where nobody knows

    @property
    def verdict(self) -> str:
        """How it stands, in one sentence."""
        read = [note for note in self.notes if note.cents is not None]
        if not read:
            return "No note has been read yet."
        out = [note.name for note in read if abs(note.cents or 0.0) > self.tolerance]
        unread = [note.name for note in self.notes if note.cents is None]
        limit = f"{self.tolerance:g} cents"
        if out:
            said = f"{len(read) - len(out)} of {len(read)} notes read are within {limit}; outside: {', '.join(out)}."
        elif len(read) == 1:
            said = f"The one note read is within {limit} of its target."
        else:
            said = f"All {len(read)} notes read are within {limit} of their targets."
        old = [note.name for note in self.notes if note.old]
        if old:
            said += f" The flute was cut after these were read: {', '.join(old)}."
        return f"{said} Not read: {', '.join(unread)}." if unread else said


def tuning_record(session: Session, serial: str, public_url: str) -> TuningRecord:
    """The tuning record of one blank, as its readings stand now. Raises NotFound."""
    blank = session.exec(select(Blank).where(Blank.serial == serial)).first() if serial.isprintable() else None
    if blank is None or blank.id is None:
        raise NotFound(f"No blank here has the serial {serial}.")
    shop = find(session, Shop, 1, "shop")
    revision = find(session, PatternRevision, blank.revision_id, "revision")
    pattern = find(session, Pattern, revision.pattern_id, "pattern")
    last = readings.latest(readings.of_blank(session, blank.id))
    old = cuts.since(list(last.values()), cuts.of_blank(session, blank.id))
    who = {reading.by for reading in last.values()}
    names = {p.id: p.name for p in session.exec(select(Person).where(col(Person.id).in_(who)))}
    temperament = "" if pattern.temperament == "equal" else f", {pattern.temperament} temperament"
    return TuningRecord(
        serial=blank.serial,
        address=public_url.rstrip("/") + (address.path_of(session, blank) or f"/blanks/{blank.serial}"),
        shop=shop.name,
        is_demo=shop.is_demo,
        paper=shop.paper,
        key=blank.key,
        scale=pattern.scale,
        pitch=f"A4 = {pattern.a4:g} Hz{temperament}",
        wood=find(session, Species, blank.species_id, "wood").name,
        pattern=f"{pattern.name}, revision {revision.number}",
        finished=measures.day_of(blank.finished_at, shop.timezone) if blank.finished_at else "",
        tolerance=shop.tolerance_cents,
        air=f"{show_temperature(shop.played_temperature, shop.degrees)}, {100 * shop.played_humidity:.0f} % humidity",
        warmer=show_warmer(2, shop.degrees),
        notes=tuple(
            _line(goal, last.get(goal.fingering), names, shop, old) for goal in readings.goals_of(revision, pattern)
        ),
        breath=str(breath.worth_of(revision, pattern, shop) or ""),
    )


def _line(
    goal: readings.Goal,
    reading: Reading | None,
    names: dict[int | None, str],
    shop: Shop,
    old: Mapping[int, list[int]],
) -> NoteLine:
    target = f"{goal.frequency:.1f}"
    if reading is None:
        return NoteLine(goal.note, goal.fingering, target, "", "", "", "", "", "", None)
    room = f"{show_temperature(reading.temperature, shop.degrees)}, {100 * reading.humidity:.0f} %"
    return NoteLine(
        name=goal.note,
        fingering=goal.fingering,
        target=target,
        read=f"{reading.frequency:.1f}",
        off=measures.cents(reading.cents),
        room=room if reading.warmed_up else f"{room}, cold",
        stage=reading.stage,
        when=measures.moment(reading.at, shop.timezone),
        initials=measures.initials(names.get(reading.by, "")),
        cents=reading.cents,
        old=reading.id in old,
    )
