"""A blank that is made to another pattern after all: shorter, or in another key.

Its foot only gets shorter, its holes only get larger. `other_keys` calculates what it can become beyond the shop's
patterns.
"""

from dataclasses import dataclass

from sqlmodel import Session, col, func, select

from acoustics.flute.instrument import Instrument
from acoustics.notes.music import parse_note
from webapp.models import (
    Blank,
    BlankStatus,
    BlankStep,
    Pattern,
    PatternRevision,
    RoutingVersion,
    Species,
    StepState,
)
from webapp.shop.advice import other_keys
from webapp.shop.base.errors import Refused
from webapp.shop.base.finding import find
from webapp.shop.blanks.state import steps_of
from webapp.shop.learning.start_sizes import start_of
from webapp.shop.patterns import rules as patterns
from webapp.shop.patterns.revisions import instrument_of
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.production.opening import order_of
from webapp.shop.routings import rules as routings
from webapp.shop.routings.built_in import steps_for
from webapp.shop.units.keys import show_note

SLACK = 0.5  # mm by which sizes may differ and count as the same
MOST_PATTERNS = 300


@dataclass(frozen=True, slots=True)
class Aim:
    """A revision that the blank can still be made to."""

    revision_id: int
    name: str
    key: str
    foot: float


def possible(session: Session, blank: Blank) -> list[Aim]:
    """The newest revisions of the shop's patterns that this blank can still be made to, the longest first."""
    if blank.status is not BlankStatus.IN_WORK:
        return []
    newest = select(func.max(PatternRevision.id)).group_by(col(PatternRevision.pattern_id))
    rows = session.exec(
        select(PatternRevision, Pattern)
        .join(Pattern, col(Pattern.id) == PatternRevision.pattern_id)
        .where(col(PatternRevision.id).in_(newest), PatternRevision.id != blank.revision_id)
        .limit(MOST_PATTERNS)
    ).all()
    now = other_keys.as_it_is(session, blank)
    found = []
    for revision, pattern in rows:
        flute = instrument_of(revision)
        if not in_the_way(now, flute):
            assert revision.id is not None
            found.append(Aim(revision.id, pattern.name, pattern.key, flute.foot_x))
    return sorted(found, key=lambda aim: -aim.foot)


def in_the_way(now: other_keys.AsItIs, flute: Instrument) -> str:
    """Why a blank as it is can't become this flute; empty where it can."""
    if flute.foot_x > now.flute.foot_x + SLACK:
        return "its foot would have to be longer than it is"
    if abs(flute.bore_diameter(0.0) - now.flute.bore_diameter(0.0)) > SLACK:
        return "its bore has a different diameter"
    if (flute.chamber is None) != (now.flute.chamber is None):
        return "only one of the two has a slow air chamber"
    if len(flute.holes) != len(now.sizes):
        return "it has a different number of finger holes"
    for hole, there, size in zip(flute.holes, now.flute.holes, now.sizes, strict=False):
        if size is not None and (abs(hole.x - there.x) > SLACK or hole.diameter < size - SLACK):
            return "a finger hole is drilled where that pattern has none"
    return ""


def aim_at(session: Session, who: Who, blank: Blank, revision_id: int, why: str) -> None:
    """Make the blank to another revision: its open steps get that one's sizes.

    In another key than its order asked for, it is no longer that order's. Raises NotFound, Refused.
    """
    if blank.status is not BlankStatus.IN_WORK or blank.waits_for in ("glue", "clamps"):
        raise Refused(f"{blank.serial} is {blank.status}, or in the clamps: it can't be given other sizes now.")
    revision = find(session, PatternRevision, revision_id, "revision")
    pattern = find(session, Pattern, revision.pattern_id, "pattern")
    flute = patterns.instrument_of(revision)
    if lack := in_the_way(other_keys.as_it_is(session, blank), flute):
        raise Refused(f"{blank.serial} can't be made to {pattern.name}: {lack}.")
    order = order_of(session, blank)
    if order and parse_note(pattern.key) != parse_note(blank.key):
        words = f"{blank.serial} becomes a flute in {show_note(pattern.key)}: its flute of this order needs a new blank"
        diary.write(session, who, "order", order.id, words, why)
        blank.ordered_flute_id = blank.due_on = None
    blank.revision_id, blank.key = revision_id, pattern.key
    session.add(blank)
    diary.write(
        session, who, "blank", blank.id, f"Made to {pattern.name}, revision {revision.number}, from now on", why
    )
    new_sizes(session, blank, pattern, revision, flute)


def new_sizes(session: Session, blank: Blank, pattern: Pattern, revision: PatternRevision, flute: Instrument) -> None:
    """Give the steps of a blank that are still open the sizes of this revision."""
    assert blank.id is not None
    species = find(session, Species, blank.species_id, "wood")
    version = session.get(RoutingVersion, blank.routing_version_id) if blank.routing_version_id else None
    start = start_of(session, pattern, revision)
    sizes = start.sizes if start else None
    first = [hole.first for hole in sizes.holes] if sizes else None
    plan = routings.steps_in(version or routings.to_open_from(session, pattern))
    fresh = {step.code: step for step in steps_for(blank.id, flute, species, first, plan, sizes)}
    present: list[BlankStep] = steps_of(session, blank.id)
    for step in present:
        if step.state is not StepState.PASSED and step.repair_id is None and (new := fresh.get(step.code)):
            step.instruction, step.nominal, step.low, step.high = new.instruction, new.nominal, new.low, new.high
            session.add(step)
