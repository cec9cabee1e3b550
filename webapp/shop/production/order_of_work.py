"""In what order the steps of a blank may be recorded.

Within a stage the bench may work as it likes (mark the centre before filling a flaw), so a later step of the same stage
may be recorded while plain work or a gauge before it is still open; those stay the next hand movement, and the stage is
not left without them. What may not be skipped, even within a stage, is what can't be made up for afterwards: a step
that failed, a glue-up, a cure, a coat, a check by ear. And no step of a later stage is recorded before all of the
earlier stages are passed.
"""

from webapp.models import BlankStep, StepKind, StepState
from webapp.shop.base.errors import Refused

NOT_TO_BE_SKIPPED = (StepKind.GLUE_UP, StepKind.CURE, StepKind.COAT, StepKind.FUNDAMENTAL, StepKind.READINGS)


def may_be_recorded(steps: list[BlankStep]) -> list[BlankStep]:
    """The open steps that the order of work allows now, waits left aside."""
    return [step for step in steps if step.state is not StepState.PASSED and not _in_the_way(steps, step)]


def check(steps: list[BlankStep], step: BlankStep) -> None:
    """Raises Refused where other steps come first."""
    if missing := _in_the_way(steps, step):
        raise Refused(f"'{step.name}' comes later. First: {_named(missing)}.")


def _in_the_way(steps: list[BlankStep], step: BlankStep) -> list[BlankStep]:
    """The steps that must be passed before this one may be recorded."""
    earlier = [s for s in steps if s.position < step.position and s.state is not StepState.PASSED]
    other_stage = [s for s in earlier if s.stage is not step.stage]
    gates = [s for s in earlier if s.kind in NOT_TO_BE_SKIPPED or s.state is StepState.FAILED]
    if step.while_waiting and gates and gates[-1].kind is StepKind.GLUE_UP:
        gates = gates[:-1]
    return other_stage or gates


def _named(steps: list[BlankStep], most: int = 4) -> str:
    names = ", ".join(f"'{step.name}'" for step in steps[:most])
    return f"{names} and {len(steps) - most} more" if len(steps) > most else names
