"""Changing the steps of a routing: add, change, move, remove, bring back. Blanks that are open keep their own."""

from collections.abc import Callable

from sqlmodel import Session, select

from webapp.models import Blank, Routing, RoutingVersion, StepKind, now
from webapp.shop.base.errors import Invalid, NotFound, Refused
from webapp.shop.base.finding import find
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.routings.built_in import BUILT_IN, STAGES
from webapp.shop.routings.forms import MOST_STEPS, SHOWN, StepAsked, to_step
from webapp.shop.routings.rules import Plan, newest, routing, steps_in, stored, version
from webapp.shop.routings.step_plan import EACH_HOLE, Step


def change_plan(
    session: Session, who: Who, routing_id: int, change: Callable[[Plan], Plan], what: str
) -> RoutingVersion:
    """Change a routing's steps and write it down; begins another version where blanks were opened from the last one.

    Raises NotAllowed, NotFound, Invalid, Refused.
    """
    who.must_work()
    known = find(session, Routing, routing_id, "routing", lock=True)
    last = newest(session, known)
    before = steps_in(last)
    after = sorted(change(list(before)), key=lambda step: STAGES.index(step.stage))
    if after == before:
        session.flush()
        return last
    _check(after)
    used = session.exec(select(Blank.id).where(Blank.routing_version_id == last.id).limit(1)).first()
    if used:
        last = RoutingVersion(routing_id=routing_id, number=last.number + 1, steps=[])
    last.steps, last.made_at, last.made_by = stored(after), now(), who.id
    known.version += 1
    session.add_all([known, last])
    diary.write(session, who, "routing", known.id, what)
    session.flush()
    return last


def _check(steps: Plan) -> None:
    """A routing that blanks can go through. Raises Refused."""
    if not steps:
        raise Refused("A routing needs at least one step.")
    if len(steps) > MOST_STEPS:
        raise Refused(f"A routing has at most {MOST_STEPS} steps.")
    glued = False
    for step in steps:
        glued = glued or step.kind is StepKind.GLUE_UP
        if step.kind is StepKind.CURE and not glued:
            raise Refused(f"'{step.name}' waits for glue to cure, but no glue-up comes before it.")
    if steps[-1].kind is StepKind.COAT:
        raise Refused(f"'{steps[-1].name}' would be the last step: something has to come once it is dry.")
    if sum(1 for step in steps if step.size and step.size.of == EACH_HOLE) > 1:
        raise Refused("Finger holes are started at one step of a routing.")


def add_step(session: Session, who: Who, routing_id: int, asked: StepAsked) -> str:
    """A further step; gives its code. Raises NotAllowed, NotFound, Invalid, Refused."""
    known = find(session, Routing, routing_id, "routing")
    code = _code(steps_in(newest(session, known)), asked, "")
    step = to_step(asked, code)
    change_plan(session, who, routing_id, lambda plan: _placed(plan, step, asked.after), f"Step added: {step.name}")
    return code


def change_step(session: Session, who: Who, routing_id: int, code: str, asked: StepAsked) -> str:
    """Change a step, its place too where that is named; gives its code.

    Raises NotAllowed, NotFound, Invalid, Refused.
    """
    known = find(session, Routing, routing_id, "routing")
    plan = steps_in(newest(session, known))
    before = one(plan, code)
    step = to_step(asked, _code([other for other in plan if other.code != code], asked, code))
    moves = asked.after is not None or step.stage is not before.stage
    called = f"Step changed: {step.name}" + (f"; was {before.name}" if step.name != before.name else "")

    def change(plan: Plan) -> Plan:
        one(plan, code)
        if not moves:
            return [step if other.code == code else other for other in plan]
        return _placed([other for other in plan if other.code != code], step, asked.after)

    change_plan(session, who, routing_id, change, called)
    return step.code


def move_step(session: Session, who: Who, routing_id: int, code: str, up: bool) -> None:
    """Move a step by one place within its stage; at the end of it nothing moves.

    Raises NotAllowed, NotFound, Refused.
    """

    def change(plan: Plan) -> Plan:
        at = plan.index(one(plan, code))
        other = at - 1 if up else at + 1
        if 0 <= other < len(plan) and plan[other].stage is plan[at].stage:
            plan[at], plan[other] = plan[other], plan[at]
        return plan

    name = one(steps_in(newest(session, routing(session, routing_id))), code).name
    change_plan(session, who, routing_id, change, f"Step moved {'up' if up else 'down'}: {name}")


def remove_step(session: Session, who: Who, routing_id: int, code: str) -> None:
    """Raises NotAllowed, NotFound, Refused."""
    gone = one(steps_in(newest(session, routing(session, routing_id))), code)
    change_plan(
        session,
        who,
        routing_id,
        lambda plan: [other for other in plan if other.code != gone.code],
        f"Step removed: {gone.name}",
    )


def bring_back(session: Session, who: Who, routing_id: int, number: int | None) -> None:
    """The steps of an earlier version again, or of the built-in routing (None).

    Raises NotAllowed, NotFound, Refused.
    """
    known = routing(session, routing_id)
    steps = steps_in(version(session, known, number)) if number is not None else list(BUILT_IN)
    what = f"Steps of version {number} brought back" if number is not None else "The built-in steps brought back"
    change_plan(session, who, routing_id, lambda _: steps, what)


def one(plan: Plan, code: str) -> Step:
    """The step of this code. Raises NotFound."""
    if found := next((step for step in plan if step.code == code), None):
        return found
    raise NotFound("There is no such step in this routing; someone may have removed it.")


def _code(others: Plan, asked: StepAsked, own: str) -> str:
    """The code of a step: what the drawing is to show once it is passed, else its own, else the next free one."""
    taken = {step.code for step in others}
    if asked.shows and asked.shows in SHOWN:
        if asked.shows in taken:
            name = next(step.name for step in others if step.code == asked.shows)
            raise Invalid({"shows": f"That is shown from '{name}' on already."})
        return asked.shows
    if asked.of == EACH_HOLE and asked.kind is StepKind.GAUGE:
        return "hole" if "hole" not in taken else own or "hole"
    if own and own not in SHOWN:
        return own
    number = 1
    while f"own-{number}" in taken:
        number += 1
    return f"own-{number}"


def _placed(plan: Plan, step: Step, after: str | None) -> Plan:
    """The plan with a step behind the one named, else at the end of its stage; "first": at the stage's beginning."""
    mine = [other for other in plan if other.stage is step.stage]
    at = len(mine)
    if after == "first":
        at = 0
    elif after and any(other.code == after for other in mine):
        at = [other.code for other in mine].index(after) + 1
    mine.insert(at, step)
    return [other for other in plan if other.stage is not step.stage] + mine
