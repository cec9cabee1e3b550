"""What stands on a build traveler, read from the shop's records."""

from collections import defaultdict
from collections.abc import Sequence
from string import ascii_uppercase

from sqlalchemy import or_
from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    BlankStep,
    Customer,
    Order,
    OrderedFlute,
    Outcome,
    Pattern,
    PatternRevision,
    Person,
    Reading,
    Repair,
    Shop,
    Species,
    Stage,
    StepKind,
    StepRecord,
    StepState,
    Units,
)
from webapp.paper.press import measures
from webapp.paper.traveler.dimensions import hole_table
from webapp.paper.traveler.parts import Head, NoteColumn, StageBlock, StepLine, Traveler
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import LARGEST_ID
from webapp.shop.bench import readings
from webapp.shop.blanks.state import counted
from webapp.shop.patterns.revisions import instrument_of
from webapp.shop.production.stages import BY_EAR
from webapp.shop.routings.cautions import FIRST
from webapp.shop.units.lengths import show_gauge, show_offered
from webapp.shop.units.temperatures import show_temperature

RESTRICTED = "Restricted species: check that its papers are in order before it is worked, sold or sent."
MOST_EXTRAS = 220  # letters; what goes beyond stands on the order's page
SENSITISING = "Its dust can sensitise skin and lungs."


def traveler(session: Session, serial: str, units: Units, public_url: str) -> Traveler:
    """The traveler of one blank. Raises NotFound."""
    # A character that no keyboard sends is in no serial, and PostgreSQL would not even compare it.
    blank = session.exec(select(Blank).where(Blank.serial == serial)).first() if serial.isprintable() else None
    if blank is None:
        raise NotFound(f"No blank here has the serial {serial}.")
    return travelers(session, [blank], units, public_url)[0]


def travelers_of_order(session: Session, number: int, units: Units, public_url: str) -> list[Traveler]:
    """The travelers of all blanks of an order, by serial. Raises NotFound where there is no order or no blank."""
    known = 0 < number <= LARGEST_ID and session.exec(select(Order.id).where(Order.number == number)).first()
    if not known:
        raise NotFound(f"There is no order {number}.")
    of_order = select(OrderedFlute.id).join(Order, col(Order.id) == OrderedFlute.order_id).where(Order.number == number)
    repaired = select(Repair.blank_id).join(Order, col(Order.id) == Repair.order_id).where(Order.number == number)
    wanted = or_(col(Blank.ordered_flute_id).in_(of_order), col(Blank.id).in_(repaired))
    blanks = session.exec(select(Blank).where(wanted).order_by(col(Blank.id))).all()
    if not blanks:
        raise NotFound(f"No blanks have been opened for order {number} yet.")
    return travelers(session, blanks, units, public_url)


def travelers(session: Session, blanks: Sequence[Blank], units: Units, public_url: str) -> list[Traveler]:
    """The travelers of these blanks, in their order, with a handful of queries however many there are."""
    shop = session.get(Shop, 1)
    if shop is None:
        raise NotFound("This shop is not set up yet.")
    ids = [blank.id for blank in blanks]
    made_from = {
        blank_id: (revision, pattern, species)
        for blank_id, revision, pattern, species in session.exec(
            select(Blank.id, PatternRevision, Pattern, Species)
            .join(PatternRevision, col(PatternRevision.id) == Blank.revision_id)
            .join(Pattern, col(Pattern.id) == PatternRevision.pattern_id)
            .join(Species, col(Species.id) == Blank.species_id)
            .where(col(Blank.id).in_(ids))
        )
    }
    made_for = {
        blank_id: (flute, order, customer)
        for blank_id, flute, order, customer in session.exec(
            select(Blank.id, OrderedFlute, Order, Customer)
            .join(OrderedFlute, col(OrderedFlute.id) == Blank.ordered_flute_id)
            .join(Order, col(Order.id) == OrderedFlute.order_id)
            .join(Customer, col(Customer.id) == Order.customer_id)
            .where(col(Blank.id).in_(ids))
        )
    }
    here_for = {
        repair.blank_id: (repair, order, customer)
        for repair, order, customer in session.exec(
            select(Repair, Order, Customer)
            .join(Order, col(Order.id) == Repair.order_id)
            .join(Customer, col(Customer.id) == Order.customer_id)
            .where(col(Repair.blank_id).in_(ids), col(Repair.begun_at).is_not(None), col(Repair.done_at).is_(None))
        )
    }
    steps: dict[int, list[BlankStep]] = defaultdict(list)
    for step in session.exec(
        select(BlankStep).where(col(BlankStep.blank_id).in_(ids)).order_by(col(BlankStep.position))
    ):
        steps[step.blank_id].append(step)
    steps.update({blank_id: _to_be_shown(own) for blank_id, own in steps.items()})
    records = _records(session, ids)
    read = _readings(session, ids)
    return [
        _one(
            shop,
            blank,
            *made_from[blank.id],
            _head(made_for.get(blank.id), here_for.get(blank.id)),
            _stages(shop, steps[blank.id or 0], records, units),
            readings.latest(read.get(blank.id or 0, [])),
            units,
            public_url,
        )
        for blank in blanks
    ]


def _head(
    made_for: tuple[OrderedFlute, Order, Customer] | None, here_for: tuple[Repair, Order, Customer] | None
) -> Head:
    """Of a flute that is here to be repaired, that repair and its order; else the order it is made for."""
    if here_for:
        repair, order, customer = here_for
        asked = measures.shortened(repair.asked, MOST_EXTRAS)
        return Head(str(order.number), customer.name, asked, order.due_on, str(repair.kind))
    if made_for:
        flute, order, customer = made_for
        return Head(str(order.number), customer.name, measures.shortened(flute.extras, MOST_EXTRAS), order.due_on)
    return Head()


def _to_be_shown(steps: list[BlankStep]) -> list[BlankStep]:
    """While a flute is under repair that repair's steps, else those that it was built by."""
    under_way = {step.repair_id for step in steps if step.repair_id and step.state is not StepState.PASSED}
    return [step for step in steps if (step.repair_id in under_way if under_way else step.repair_id is None)]


def _records(session: Session, blanks: Sequence[int | None]) -> dict[int, tuple[StepRecord, str]]:
    """For each step the last record that still counts, and who made it."""
    rows = session.exec(
        select(StepRecord, Person.name)
        .join(Person, col(Person.id) == StepRecord.by)
        .where(col(StepRecord.blank_id).in_(blanks))
        .order_by(col(StepRecord.id))
    ).all()
    names = {record.by: name for record, name in rows}
    return {record.step_id: (record, names[record.by]) for record in counted([record for record, _ in rows])}


def _readings(session: Session, blanks: Sequence[int | None]) -> dict[int, list[Reading]]:
    """All readings of each blank, oldest first."""
    found: dict[int, list[Reading]] = defaultdict(list)
    for reading in session.exec(select(Reading).where(col(Reading.blank_id).in_(blanks)).order_by(col(Reading.id))):
        found[reading.blank_id].append(reading)
    return found


def _one(
    shop: Shop,
    blank: Blank,
    revision: PatternRevision,
    pattern: Pattern,
    species: Species,
    head: Head,
    stages: tuple[StageBlock, ...],
    last: dict[str, Reading],
    units: Units,
    public_url: str,
) -> Traveler:
    instrument = instrument_of(revision)
    temperament = "" if pattern.temperament == "equal" else f", {pattern.temperament} temperament"
    return Traveler(
        serial=blank.serial,
        address=f"{public_url.rstrip('/')}/blanks/{blank.serial}",
        shop=shop.name,
        is_demo=shop.is_demo,
        paper=shop.paper,
        units=units,
        key=blank.key,
        scale=pattern.scale,
        holes=len(instrument.holes),
        pitch=f"A4 = {pattern.a4:g} Hz{temperament}",
        order=head.order,
        customer=head.customer,
        extras=head.extras,
        repair=head.repair,
        due=measures.day(blank.due_on or head.due_on),
        wood=species.name,
        wood_cautions=_wood_cautions(species),
        pattern=pattern.name,
        revision=str(revision.number),
        status=blank.status,
        instrument=instrument,
        hole_table=hole_table(instrument, units),
        notes=_notes(pattern, revision, last),
        air=f"{show_temperature(shop.played_temperature, shop.degrees)}, {100 * shop.played_humidity:.0f} % humidity",
        stages=stages,
    )


def _wood_cautions(species: Species) -> tuple[str, ...]:
    said = species.what_to_check.strip()
    cautions = []
    if species.restricted:
        cautions.append(RESTRICTED)
    if species.sensitising and not said:
        cautions.append(SENSITISING)
    return (*cautions, said) if said else tuple(cautions)


def _notes(pattern: Pattern, revision: PatternRevision, last: dict[str, Reading]) -> tuple[NoteColumn, ...]:
    return tuple(
        NoteColumn(
            goal.fingering,
            goal.note,
            f"{goal.frequency:.1f}",
            "" if goal.predicted is None else measures.cents(goal.predicted),
            measures.cents(last[goal.fingering].cents) if goal.fingering in last else "",
        )
        for goal in readings.goals_of(revision, pattern)
    )


def _stages(
    shop: Shop, steps: Sequence[BlankStep], records: dict[int, tuple[StepRecord, str]], units: Units
) -> tuple[StageBlock, ...]:
    blocks = []
    letters: dict[str, str] = {}
    for number, stage in enumerate(Stage, 1):
        own = [step for step in steps if step.stage is stage]
        if own:
            cautions = _cautions(own, letters)
            lines = tuple(
                _line(shop, step, *caution, records.get(step.id or 0), units)
                for step, caution in zip(own, cautions, strict=True)
            )
            blocks.append(StageBlock(number, stage.value, lines))
    return tuple(blocks)


def _cautions(steps: Sequence[BlankStep], letters: dict[str, str]) -> list[tuple[str, bool, str]]:
    """Each step's caution; the line that gives way to local codes stands at the foot of every page instead.

    Each is spelled out where it first holds, with a letter (kept in `letters`); further steps name that letter.
    """
    found = []
    for step in steps:
        text = step.caution.removesuffix(FIRST).strip()
        before = text in letters
        if text and not before:
            letters[text] = ascii_uppercase[len(letters) % 26]
        found.append((text, before, letters.get(text, "")))
    return found


def _line(
    shop: Shop,
    step: BlankStep,
    caution: str,
    as_above: bool,
    letter: str,
    record: tuple[StepRecord, str] | None,
    units: Units,
) -> StepLine:
    entry, by = record if record else (None, "")
    wanted, limits = _wanted(shop, step, units)
    value = "" if entry is None or entry.value is None else _measured(step, entry.value, units)
    remark = ""
    if entry is not None and entry.outcome in (Outcome.FAILED, Outcome.LET_PASS):
        remark = f"{entry.outcome.value}: {entry.why}" if entry.why else entry.outcome.value
    return StepLine(
        name=step.name,
        caution=caution,
        as_above=as_above,
        letter=letter,
        gauge=step.gauge or ("Lowest note: meter" if step.kind is StepKind.FUNDAMENTAL else ""),
        wanted=wanted,
        limits=limits,
        has_value=step.kind in (StepKind.GAUGE, StepKind.FUNDAMENTAL),
        done=step.state,
        value=value,
        initials=measures.initials(by),
        when=measures.moment(entry.at, shop.timezone) if entry else "",
        remark=remark,
    )


def _wanted(shop: Shop, step: BlankStep, units: Units) -> tuple[str, str]:
    """What a step asks for, and its limits."""
    if step.kind is StepKind.GAUGE:
        nominal = "" if step.nominal is None else show_offered(step.nominal, units, step.low, step.high)
        return nominal, measures.limits(step.low, step.high, units)
    if step.kind is StepKind.FUNDAMENTAL:
        aim = readings.aim(shop, step.stage)
        low, high = aim - shop.tolerance_cents, aim + shop.tolerance_cents
        return f"{measures.cents(aim)} cents", f"{measures.cents(low)} to {measures.cents(high)}"
    if step.kind is StepKind.COAT and step.nominal is not None:
        return f"dries {measures.span(step.nominal)}", ""
    return "", ""


def _measured(step: BlankStep, value: float, units: Units) -> str:
    """A recorded value: a length at a gauge, cents where ear and meter decide (of several notes, the worst)."""
    if step.kind is StepKind.GAUGE:
        return show_gauge(value, units)
    return f"{measures.cents(value)} ct" if step.kind in BY_EAR else f"{value:g}"
