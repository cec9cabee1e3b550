"""Blanks to test with: a pattern, an order, and a blank brought to any step."""

from datetime import date
from decimal import Decimal
from typing import Any

from sqlmodel import Session, select

from acoustics.flute.instrument import Body, Chamber, Flue, Hole, Instrument, Window
from acoustics.notes.music import targets
from tests.glue_ups import through_the_clamps
from webapp.models import (
    Blank,
    BlankStep,
    Customer,
    Order,
    OrderedFlute,
    OrderStatus,
    Pattern,
    PatternRevision,
    Species,
    StepKind,
    StepState,
)
from webapp.shop.bench import readings
from webapp.shop.bench.readings import RecordReading
from webapp.shop.people.accounts import Who
from webapp.shop.production import opening as blanks, stages
from webapp.shop.production.stages import RecordStep

FLUTE = Instrument(
    bore=((-8.5, 19.05), (330.0, 19.05)),
    body=Body("round", 4.8),
    window=Window(5.5, 11.4, 3.6, 30.0),
    holes=tuple(Hole(x, d) for x, d in [(130, 7.0), (152, 7.5), (176, 8.0), (205, 8.0), (232, 8.5), (262, 7.0)]),
    flue=Flue(0.8, 10.3, 24.0),
    chamber=Chamber(160.0, 19.05),
)


def pattern(session: Session, who: Who, key: str = "A4", instrument: Instrument = FLUTE) -> int:
    """A pattern with one revision of this shape; the id of the revision."""
    made = Pattern(name=f"Pattern in {key}", key=key, scale="minor pentatonic", holes=len(instrument.holes))
    session.add(made)
    session.flush()
    assert made.id is not None
    notes: list[dict[str, Any]] = [
        {"fingering": t.fingering, "note": t.note, "target": t.frequency, "frequency": t.frequency, "cents": 0.0}
        for t in targets(key, "minor pentatonic", len(instrument.holes))
    ]
    revision = PatternRevision(
        pattern_id=made.id,
        instrument=instrument.to_json(),
        request={"key": key},
        notes=notes,
        warnings=[],
        made_by=who.id,
    )
    session.add(revision)
    session.commit()
    assert revision.id is not None
    return revision.id


def order(
    session: Session,
    status: OrderStatus = OrderStatus.CONFIRMED,
    key: str = "A4",
    due_on: date | None = date(2031, 5, 2),
) -> int:
    """An order for one flute; the id of the ordered flute."""
    customer = Customer(name="Rosa Lindqvist")
    session.add(customer)
    session.flush()
    assert customer.id is not None
    number = len(session.exec(select(Order)).all()) + 1
    made = Order(
        number=number, customer_id=customer.id, status=status, taken_on=date(2031, 1, 5), due_on=due_on, currency="EUR"
    )
    session.add(made)
    session.flush()
    assert made.id is not None
    species = session.exec(select(Species.id).where(Species.name == "black walnut")).one()
    assert species is not None
    flute = OrderedFlute(order_id=made.id, key=key, scale="minor pentatonic", species_id=species, price=Decimal(300))
    session.add(flute)
    session.commit()
    assert flute.id is not None
    return flute.id


def opened(session: Session, who: Who, count: int = 1, flute_id: int | None = None, key: str = "A4") -> list[Blank]:
    """Blanks opened from a pattern of their own."""
    species = session.exec(select(Species.id).where(Species.name == "black walnut")).one()
    assert species is not None
    existing = session.exec(select(PatternRevision.id).join(Pattern).where(Pattern.key == key)).first()
    revision = existing or pattern(session, who, key)
    return blanks.open_blanks(session, who, flute_id, revision, species, None, count)


def step(session: Session, blank: Blank, code: str) -> BlankStep:
    """One step of a blank, as it is now."""
    statement = select(BlankStep).where(BlankStep.blank_id == blank.id, BlankStep.code == code)
    return session.exec(statement.execution_options(populate_existing=True)).one()


def passed(session: Session, who: Who, blank: Blank, code: str, **asked: Any) -> None:
    """Record one step as passed, a gauge at its nominal size."""
    at = step(session, blank, code)
    if at.kind is StepKind.GAUGE and "value" not in asked:
        asked["value"] = at.nominal
    assert at.id is not None
    stages.record(session, who, at.id, RecordStep(**asked))


def bring_to(session: Session, who: Who, blank: Blank, code: str) -> None:
    """Pass every step before `code`, clamps, cure and coats cut short for the reason that this is a test."""
    assert blank.id is not None
    for at in session.exec(select(BlankStep).where(BlankStep.blank_id == blank.id).order_by(BlankStep.position)).all():
        if at.code == code:
            return
        session.refresh(at)
        if at.state is StepState.PASSED:
            continue
        if at.kind is StepKind.GLUE_UP:
            through_the_clamps(session, who, blank)
        else:
            if at.kind in (StepKind.FUNDAMENTAL, StepKind.READINGS):
                read_all(session, who, blank, -8.0 if at.kind is StepKind.FUNDAMENTAL else 0.0)
            passed(session, who, blank, at.code, why="a test can't wait")


def read_all(session: Session, who: Who, blank: Blank, cents: float = 0.0) -> None:
    """Read every note so far from its target, in the played air of a shop at its usual temperature."""
    assert blank.id is not None
    for goal in readings.goals_for(session, blank):
        pitch = f"{goal.frequency * 2 ** (cents / 1200):.3f}"
        asked = RecordReading(fingering=goal.fingering, pitch=pitch, temperature=20, humidity=50, warmed_up=True)
        readings.record(session, who, blank.id, asked)
