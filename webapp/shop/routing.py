"""The default routing: the steps of each stage in their order, as data, with gauges filled from a pattern's instrument.

Steps and their order are the trade's (common practice, no published source), and so is every limit here that
carries no other word. Sizes come from the pattern. A blank gets its own copy when it is opened, so that a later
change of the routing changes no blank that is under way.
"""

from collections.abc import Sequence

from acoustics.instrument import Instrument
from webapp.models import BlankStep, Species, Stage, StepKind
from webapp.shop import cautions
from webapp.shop.step_plan import Limits, Step
from webapp.shop.steps_of_the_body import BORING, GLUING
from webapp.shop.steps_of_the_voice import FINISHING, FLUE, TUNED, TUNING, VOICING

FOOT_UP = "From the foot up: the hole nearest the foot first."


def hole_steps(instrument: Instrument, first: Sequence[float] | None) -> list[Step]:
    """A gauge for each finger hole, from the foot up: started at `first` [mm], else at three quarters of its size."""
    steps = []
    for index in range(len(instrument.holes), 0, -1):
        limits = _started(instrument.holes[index - 1].diameter, first[index - 1] if first else None)
        steps.append(
            Step(
                Stage.TUNING,
                f"hole-{index}",
                f"Finger hole {index} started small",
                f"{FOOT_UP} Drill well under the pattern's size; tuning opens it the rest of the way, and nothing "
                "makes it smaller again.",
                StepKind.GAUGE,
                "Hole diameter: drill or small-hole gauge",
                lambda _, limits=limits: limits,  # type: ignore[misc]
                cautions.HOLES,
            )
        )
    if instrument.foot_holes:
        steps.append(
            Step(
                Stage.TUNING,
                "foot-holes",
                "Foot holes started small",
                "Drill the always-open holes near the foot, well under the pattern's size.",
                caution=cautions.HOLES,
            )
        )
    return steps


def _started(finished: float, first: float | None) -> Limits:
    """Limits for a hole that is only started: well under its finished diameter [mm], which it grows to in tuning."""
    nominal = round(first, 2) if first is not None else round(0.75 * finished, 1)
    return Limits(nominal, round(0.5 * finished, 1), round(max(0.92 * finished, nominal + 0.1), 1))


def default_routing(instrument: Instrument, first: Sequence[float] | None = None) -> list[Step]:
    """All steps of all stages in their order, for a flute of this shape; `first`: its holes' start sizes [mm]."""
    return [
        *BORING,
        *GLUING,
        *(FLUE if instrument.flue else FLUE[:2]),
        *VOICING,
        *TUNING,
        *hole_steps(instrument, first),
        *TUNED,
        *FINISHING,
    ]


def steps_for(
    blank_id: int, instrument: Instrument, species: Species, first: Sequence[float] | None = None
) -> list[BlankStep]:
    """A blank's own copy of the routing, gauges filled; positions start at 1. The caller adds the rows."""
    copied = []
    for position, step in enumerate(default_routing(instrument, first), start=1):
        limits = step.limits(instrument) if step.limits else None
        copied.append(
            BlankStep(
                blank_id=blank_id,
                stage=step.stage,
                position=position,
                code=step.code,
                name=step.name,
                instruction=step.instruction.format(edge_angle=instrument.window.edge_angle),
                caution=cautions.with_wood(step.caution, step.code, species),
                kind=step.kind,
                gauge=step.gauge,
                nominal=limits.nominal if limits else None,
                low=limits.low if limits else None,
                high=limits.high if limits else None,
                while_waiting=step.while_waiting,
            )
        )
    return copied
