"""The same step of several blanks in one entry: all of them are recorded, or none."""

from collections.abc import Mapping, Sequence
from itertools import groupby

from sqlmodel import Session

from webapp.models import Blank, BlankStatus, BlankStep, StepKind, StepRecord, StepState
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.base.finding import find
from webapp.shop.blanks.state import steps_of
from webapp.shop.people.accounts import Who
from webapp.shop.production import stages
from webapp.shop.production.stages import BY_EAR, RecordStep

MOST = 24
# These are done where each blank is by itself: at the glue-up page, at the bench.
APART = (StepKind.GLUE_UP, *BY_EAR)


def next_steps(session: Session, blanks: Sequence[Blank]) -> list[tuple[BlankStep, Blank]]:
    """The next step of each blank that is in work, those of the same step beside one another."""
    found = []
    for blank in blanks:
        steps = steps_of(session, blank.id or 0) if blank.status is BlankStatus.IN_WORK else []
        step = next((step for step in steps if step.state is not StepState.PASSED), None)
        if step is not None:
            found.append((step, blank))
    return sorted(found, key=lambda pair: (pair[0].position, pair[0].code, pair[1].serial))


def groups(pairs: Sequence[tuple[BlankStep, Blank]]) -> list[list[tuple[BlankStep, Blank]]]:
    """Blanks at the same step, in one group."""
    return [list(members) for _, members in groupby(pairs, key=lambda pair: (pair[0].code, pair[0].name))]


def record(session: Session, who: Who, step_ids: Sequence[int], asked: Mapping[int, RecordStep]) -> list[StepRecord]:
    """Record each of these steps, as it is asked for by its id. What one of them refuses, none of them does: a refusal
    names its blank, and messages stand at the field's name, a dash and the step's id.

    Raises NotAllowed, NotFound, Invalid, Refused."""
    who.must_work()
    if not step_ids:
        raise Invalid({"": "Choose at least one blank."})
    if len(step_ids) > MOST:
        raise Invalid({"": f"At most {MOST} blanks in one entry."})
    steps = [find(session, BlankStep, step_id, "step") for step_id in dict.fromkeys(step_ids)]
    made: list[StepRecord] = []
    wrong: dict[str, str] = {}
    # Always in the same order, so that two such entries never wait for one another.
    for step in sorted(steps, key=lambda one: one.blank_id):
        try:
            made.append(stages.record(session, who, step.id or 0, asked[step.id or 0]))
        except Invalid as error:
            wrong |= {f"{name or 'value'}-{step.id}": said for name, said in error.errors.items()}
        except Refused as error:
            raise Refused(f"Nothing was recorded. {error}") from error
    if wrong:
        raise Invalid(wrong)
    return made
