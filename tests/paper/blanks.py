"""Rows of an invented shop with a blank or two on its bench, for the papers' tests and measurements."""

import copy
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from sqlmodel import Session, col, select

from acoustics.flute.instrument import Instrument
from webapp.models import (
    Blank,
    BlankStep,
    Customer,
    Order,
    OrderedFlute,
    OrderStatus,
    Outcome,
    Pattern,
    PatternRevision,
    Person,
    Reading,
    Species,
    Stage,
    StepKind,
    StepRecord,
    StepState,
)
from webapp.shop.routings.built_in import steps_for

MORNING = datetime(2026, 3, 3, 9, 40, tzinfo=UTC)

# A flute in A4 with six holes, of ordinary proportions.
SIX_HOLES: dict[str, Any] = {
    "format": "two-chamber-flute/1",
    "bore": [[-8.5, 19.05], [318.4, 19.05]],
    "body": {"outside": "round", "wall": 4.8},
    "window": {"length": 5.5, "width": 11.4, "wall": 3.6, "edge_angle": 30},
    "holes": [
        {"x": 122.3, "diameter": 7.1},
        {"x": 145.2, "diameter": 7.5},
        {"x": 169.8, "diameter": 7.9},
        {"x": 202.6, "diameter": 8.3},
        {"x": 227.4, "diameter": 8.7},
        {"x": 254.9, "diameter": 7.5, "undercut": 0.5},
    ],
    "foot_holes": [{"x": 301.0, "diameter": 6.4}],
    "flue": {"depth": 0.8, "width": 10.3, "length": 24.0},
    "chamber": {"length": 164.0, "diameter": 19.05},
}
NOTES = [
    ("xxxxxx", "A4", 440.0, 0.2),
    ("xxxxxo", "C5", 523.251, -0.4),
    ("xxxxoo", "D5", 587.33, 0.1),
    ("xxxooo", "E5", 659.255, 1.2),
    ("xxoooo", "G5", 783.991, -2.3),
    ("xooooo", "A5", 880.0, 0.6),
    ("oooooo", "C6", 1046.502, 3.4),
]


def longest_flute() -> dict[str, Any]:
    """As much to say about a six-hole flute as there realistically is."""
    flute = copy.deepcopy(SIX_HOLES)
    flute["bore"] = [[-8.5, 19.05], [150.0, 18.6], [318.4, 17.46]]
    for hole in flute["holes"]:
        hole.update(undercut=0.8, wall=4.4)
    flute["foot_holes"] = [{"x": 288.0, "diameter": 5.5}, {"x": 301.0, "diameter": 6.4}]
    return flute


@dataclass
class Wanted:
    """What the test wants to see on paper; the defaults are an ordinary blank."""

    serial: str = "AL-0042"
    customer: str = "Maren Oduya"
    pattern: str = "A4 minor pentatonic, 3/4 in bore"
    extras: str = ""
    wood: str = "western redcedar"
    steps: int = 0  # how many of the first steps are done
    instrument: dict[str, Any] = field(default_factory=lambda: SIX_HOLES)
    blanks: int = 1
    readings: bool = False
    scale: str = "minor pentatonic"


LONGEST = Wanted(
    serial="ALDER-2026-00142",
    customer="Wilhelmina Featherstonehaugh-Papadopoulos and Sons, Riverside Ensemble",
    pattern="A4 chromatic six-hole, 3/4 in tapered bore with two foot holes, thin wall, long",
    extras="Totem block carved as a heron, leather cord in oxblood, case lined with wool felt, second block uncarved, "
    "name engraved below hole six: For Aunt Philomena on her ninetieth",
    wood="rosewood (Dalbergia)",
    scale="chromatic",
    instrument=longest_flute(),
)


def put_on_the_bench(session: Session, wanted: Wanted | None = None) -> list[Blank]:
    """Adds an order with its pattern and blanks to a shop that is set up, and commits. The order's number is 7."""
    wanted = wanted or Wanted()
    person = session.exec(select(Person).order_by(col(Person.id))).first()
    species = session.exec(select(Species).where(Species.name == wanted.wood)).one()
    assert person is not None and person.id is not None and species.id is not None
    customer = Customer(name=wanted.customer)
    pattern = Pattern(name=wanted.pattern, key="A4", scale=wanted.scale, holes=len(wanted.instrument["holes"]))
    session.add_all([customer, pattern])
    session.flush()
    order = Order(
        number=7,
        customer_id=customer.id or 0,
        status=OrderStatus.IN_THE_SHOP,
        taken_on=date(2026, 2, 1),
        due_on=date(2026, 4, 18),
        currency="USD",
    )
    notes = [dict(zip(("fingering", "note", "target", "cents"), note, strict=True)) for note in NOTES]
    revision = PatternRevision(
        pattern_id=pattern.id or 0,
        number=3,
        instrument=wanted.instrument,
        request={},
        notes=notes if wanted.scale == "minor pentatonic" else [],
        warnings=[],
        made_by=person.id,
    )
    session.add_all([order, revision])
    session.flush()
    flute = OrderedFlute(
        order_id=order.id or 0,
        key="A4",
        scale=wanted.scale,
        species_id=species.id,
        extras=wanted.extras,
        revision_id=revision.id,
    )
    session.add(flute)
    session.flush()
    blanks = []
    for number in range(wanted.blanks):
        serial = wanted.serial if number == 0 else f"{wanted.serial}-{number + 1}"
        blank = Blank(
            serial=serial,
            ordered_flute_id=flute.id,
            revision_id=revision.id or 0,
            species_id=species.id,
            key="A4",
            due_on=order.due_on,
            opened_by=person.id,
        )
        session.add(blank)
        session.flush()
        steps = steps_for(blank.id or 0, Instrument.from_json(wanted.instrument), species)
        session.add_all(steps)
        session.flush()
        for step in steps[: wanted.steps]:
            _done(session, step, person.id)
        if wanted.readings:
            _read(session, blank.id or 0, person.id)
        blanks.append(blank)
    session.commit()
    return blanks


def _done(session: Session, step: BlankStep, by: int) -> None:
    step.state = StepState.PASSED
    value = step.nominal if step.kind is StepKind.GAUGE else None
    session.add(
        StepRecord(step_id=step.id or 0, blank_id=step.blank_id, outcome=Outcome.PASSED, value=value, at=MORNING, by=by)
    )


def _read(session: Session, blank_id: int, by: int) -> None:
    for index, (fingering, name, target, _) in enumerate(NOTES):
        cents = (-7.0, -3.0, 2.0, 0.0, 4.0, -1.0, 6.0)[index]
        session.add(
            Reading(
                blank_id=blank_id,
                stage=Stage.TUNING,
                fingering=fingering,
                note_name=name,
                frequency=target * 2 ** (cents / 1200),
                target=target,
                temperature=20.0,
                humidity=0.5,
                cents=cents,
                at=MORNING,
                by=by,
            )
        )
