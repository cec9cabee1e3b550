"""The shop's routings: which there are, and which a pattern goes by. Their steps are changed by `routing_steps`.

A routing is a row with numbered versions of its steps. The last version is changed in place until a blank has been
opened from it; the next change then begins another version, so that every blank can tell what it was opened with.
A shop that never had a routing of its own gets the built-in one when it is first needed.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, func, select

from webapp.models import Blank, Pattern, Routing, RoutingVersion
from webapp.shop.base.errors import Invalid, NotFound, Refused
from webapp.shop.base.finding import find, held
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.routings.built_in import BUILT_IN
from webapp.shop.routings.forms import NewRouting, RoutingAsked
from webapp.shop.routings.step_plan import Step

USUAL = "Two halves, milled and glued"
Plan = list[Step]


@dataclass(frozen=True, slots=True)
class Listed:
    """A routing with how many steps it has, how many patterns name it, and its newest version."""

    routing: Routing
    steps: int
    patterns: int
    version: RoutingVersion


def ensure(session: Session) -> Routing:
    """The shop's usual routing; a shop that has none yet gets the built-in one as its own."""
    if found := session.exec(select(Routing).where(col(Routing.is_usual)).order_by(col(Routing.id))).first():
        return found
    made = Routing(name=USUAL, note="The built-in order of work.", is_usual=True)
    session.add(made)
    session.flush()
    assert made.id is not None
    session.add(RoutingVersion(routing_id=made.id, steps=stored(BUILT_IN)))
    session.flush()
    return made


def listed(session: Session) -> list[Listed]:
    """All routings, the usual one first, those put away last. Empty where the shop has none of its own yet."""
    patterns = dict(session.exec(select(Pattern.routing_id, func.count()).group_by(col(Pattern.routing_id))).all())
    order = (col(Routing.put_away), col(Routing.is_usual).desc(), func.lower(Routing.name))
    found = []
    for routing in session.exec(select(Routing).order_by(*order)):
        version = newest(session, routing)
        found.append(Listed(routing, len(version.steps), patterns.get(routing.id, 0), version))
    return found


def routing(session: Session, routing_id: int) -> Routing:
    """Raises NotFound."""
    return find(session, Routing, routing_id, "routing")


def newest(session: Session, of: Routing) -> RoutingVersion:
    """The version that blanks are opened from now."""
    statement = select(RoutingVersion).where(RoutingVersion.routing_id == of.id)
    return session.exec(statement.order_by(col(RoutingVersion.number).desc()).limit(1)).one()


def versions(session: Session, of: Routing) -> list[tuple[RoutingVersion, int]]:
    """Every version, newest first, with how many blanks were opened from it."""
    counted = func.count(col(Blank.id))
    rows = session.exec(
        select(RoutingVersion, counted)
        .join(Blank, col(Blank.routing_version_id) == RoutingVersion.id, isouter=True)
        .where(RoutingVersion.routing_id == of.id)
        .group_by(col(RoutingVersion.id))
        .order_by(col(RoutingVersion.number).desc())
    )
    return [(version, blanks) for version, blanks in rows]


def version(session: Session, of: Routing, number: int) -> RoutingVersion:
    """Raises NotFound."""
    statement = select(RoutingVersion).where(RoutingVersion.routing_id == of.id, RoutingVersion.number == number)
    if found := session.exec(statement).first():
        return found
    raise NotFound(f"{of.name} has no version {number}.")


def steps_in(of: RoutingVersion) -> Plan:
    """The steps of a version, in their order."""
    return [Step.from_json(step) for step in of.steps]


def stored(steps: Sequence[Step]) -> list[dict[str, object]]:
    """The steps as a version holds them."""
    return [step.to_json() for step in steps]


def of_pattern(session: Session, pattern: Pattern) -> Routing | None:
    """The routing a pattern goes by: its own, else the shop's usual one; None where the built-in one still serves."""
    if pattern.routing_id is not None:
        return find(session, Routing, pattern.routing_id, "routing")
    return session.exec(select(Routing).where(col(Routing.is_usual)).order_by(col(Routing.id))).first()


def to_open_from(session: Session, pattern: Pattern) -> RoutingVersion:
    """The version that blanks of this pattern are opened from."""
    chosen = of_pattern(session, pattern) or ensure(session)
    assert chosen.id is not None
    # Held, so that nobody changes that version before it counts as opened from.
    return newest(session, find(session, Routing, chosen.id, "routing", lock=True))


def begin(session: Session, who: Who) -> Routing:
    """Make the built-in routing the shop's own, to be changed. Raises NotAllowed."""
    who.must_work()
    made = ensure(session)
    session.flush()
    return made


def add(session: Session, who: Who, asked: NewRouting) -> Routing:
    """A further routing, with the steps of the one it is a copy of. Raises NotAllowed, NotFound, Invalid."""
    who.must_work()
    ensure(session)
    _free_name(session, asked.name, None)
    source = find(session, Routing, asked.copy_of, "routing") if asked.copy_of else None
    steps = newest(session, source).steps if source else stored(BUILT_IN)
    made = Routing(name=asked.name, note=asked.note)
    session.add(made)
    session.flush()
    assert made.id is not None
    session.add(RoutingVersion(routing_id=made.id, steps=steps, made_by=who.id))
    what = f"Made as a copy of {source.name}" if source else "Made from the built-in steps"
    diary.write(session, who, "routing", made.id, what)
    session.flush()
    return made


def rename(session: Session, who: Who, routing_id: int, asked: RoutingAsked) -> Routing:
    """Raises NotAllowed, NotFound, Invalid."""
    who.must_work()
    known = find(session, Routing, routing_id, "routing", lock=True)
    _free_name(session, asked.name, routing_id)
    if known.name != asked.name:
        diary.write(session, who, "routing", known.id, f"Called {asked.name}; was {known.name}")
    known.name, known.note = asked.name, asked.note
    known.version += 1
    session.add(known)
    session.flush()
    return known


def _free_name(session: Session, name: str, own_id: int | None) -> None:
    same = select(Routing.id).where(func.lower(Routing.name) == name.lower(), col(Routing.id) != (own_id or 0))
    if session.exec(same).first():
        raise Invalid({"name": "There is a routing of that name already."})


def make_usual(session: Session, who: Who, routing_id: int) -> Routing:
    """Patterns that name no routing of their own go by this one from now on. Raises NotAllowed, NotFound, Refused."""
    who.must_work()
    # All of them are held, always in the same order: there is never more than one usual routing.
    everyone = session.exec(held(select(Routing).order_by(col(Routing.id)))).all()
    known = find(session, Routing, routing_id, "routing")
    if known.put_away:
        raise Refused(f"{known.name} is put away: take it out again first.")
    for one in everyone:
        one.is_usual = one.id == known.id
        session.add(one)
    diary.write(session, who, "routing", known.id, "Is the usual routing now")
    session.flush()
    return known


def put_away(session: Session, who: Who, routing_id: int, away: bool) -> Routing:
    """Put a routing away that no pattern goes by, or take it out again. Raises NotAllowed, NotFound, Refused."""
    who.must_work()
    known = find(session, Routing, routing_id, "routing", lock=True)
    if away and known.is_usual:
        raise Refused(f"{known.name} is the usual routing: make another one the usual one first.")
    going_by = session.exec(select(Pattern.name).where(Pattern.routing_id == routing_id).order_by(Pattern.name)).all()
    if away and going_by:
        raise Refused(f"{', '.join(going_by[:5])} go by it: choose another routing for them first.")
    known.put_away = away
    session.add(known)
    diary.write(session, who, "routing", known.id, "Put away" if away else "Taken out again")
    session.flush()
    return known


def choose(session: Session, who: Who, pattern_id: int, routing_id: int | None) -> Pattern:
    """Let a pattern go by this routing, or by the usual one (None). Blanks that are open keep their steps.

    Raises NotAllowed, NotFound, Invalid.
    """
    who.must_work()
    pattern = find(session, Pattern, pattern_id, "pattern", lock=True)
    chosen = session.get(Routing, routing_id) if routing_id is not None else None
    if routing_id is not None and (chosen is None or chosen.put_away):
        raise Invalid({"routing_id": "Choose one of the list."})
    if pattern.routing_id != routing_id:
        pattern.routing_id = routing_id
        session.add(pattern)
        diary.write(
            session, who, "pattern", pattern.id, f"Goes by the routing {chosen.name if chosen else 'that is usual'}"
        )
    session.flush()
    return pattern
