"""From a routing to a blank's own steps: the built-in order of work, and gauges filled from a pattern's instrument.

Steps and their order are the trade's (common practice, no published source), and so is every limit here that
carries no other word. Sizes come from the pattern. A blank gets its own copy when it is opened, so that a later
change of the routing changes no blank that is under way. What a shop makes of the routing: `routings`.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from acoustics.designing.starting import StartSizes
from acoustics.flute.instrument import Instrument
from webapp.models import BlankStep, Species, Stage, StepKind
from webapp.shop.routings import cautions
from webapp.shop.routings.making import planing_depth
from webapp.shop.routings.step_plan import EACH_HOLE, FOOT_HOLES, ROUND, Limits, Step, limits_of, measure_of
from webapp.shop.routings.steps_of_the_body import BORING, GLUING
from webapp.shop.routings.steps_of_the_voice import FINISHING, FLUE, TUNING, VOICING

BUILT_IN: tuple[Step, ...] = (*BORING, *GLUING, *FLUE, *VOICING, *TUNING, *FINISHING)
STAGES = list(Stage)


def _started(finished: float, first: float | None) -> Limits:
    """Limits for a hole that is only started: well under its finished diameter [mm], which it grows to in tuning."""
    nominal = round(first, 2) if first is not None else round(0.75 * finished, 1)
    return Limits(nominal, round(0.5 * finished, 1), round(max(0.92 * finished, nominal + 0.1), 1))


def _for_holes(step: Step, flute: Instrument, first: Sequence[float] | None) -> Iterator[tuple[Step, Limits]]:
    """One step for each finger hole, from the foot up; without {hole} in its name, its number is put behind it."""
    name = step.name if "{hole}" in step.name else f"{step.name}, hole {{hole}}"
    for number in range(len(flute.holes), 0, -1):
        one = replace(
            step,
            code=f"hole-{number}",
            name=name.replace("{hole}", str(number)),
            instruction=step.instruction.replace("{hole}", str(number)),
        )
        yield one, _started(flute.holes[number - 1].diameter, first[number - 1] if first else None)


def planned(
    plan: Sequence[Step], flute: Instrument, first: Sequence[float] | None = None, start: StartSizes | None = None
) -> list[tuple[Step, Limits | None]]:
    """The steps that a flute of this shape goes through, stage by stage, each with its sizes [mm].

    A gauge for something that the pattern has not (a flue, a slow air chamber) is left out. `first`: the start sizes
    of its finger holes.
    """
    found: list[tuple[Step, Limits | None]] = []
    for step in sorted(plan, key=lambda step: STAGES.index(step.stage)):
        if step.only == FOOT_HOLES and not flute.foot_holes:
            continue
        if step.only == ROUND and not planing_depth(flute):
            continue
        if step.size is None:
            found.append((step, Limits(step.minutes) if step.kind is StepKind.COAT and step.minutes else None))
        elif step.size.of == EACH_HOLE:
            found += _for_holes(step, flute, first)
        elif limits := limits_of(step.size, flute, start):
            found.append((step, limits))
    return found


def steps_for(
    blank_id: int,
    instrument: Instrument,
    species: Species,
    first: Sequence[float] | None = None,
    plan: Sequence[Step] = BUILT_IN,
    start: StartSizes | None = None,
) -> list[BlankStep]:
    """A blank's own copy of the routing, gauges filled; positions start at 1. The caller adds the rows."""
    angle = f"{instrument.window.edge_angle:.0f}"
    return [
        BlankStep(
            blank_id=blank_id,
            stage=step.stage,
            position=position,
            code=step.code,
            name=step.name[:80],
            instruction=step.instruction.replace("{edge angle}", angle)[:600],
            caution=cautions.with_wood(step.caution, step.code, species),
            kind=step.kind,
            gauge=step.gauge,
            measures=measure_of(step),
            nominal=limits.nominal if limits else None,
            low=limits.low if limits else None,
            high=limits.high if limits else None,
            while_waiting=step.while_waiting,
            photo=step.photo,
        )
        for position, (step, limits) in enumerate(planned(plan, instrument, first, start), start=1)
    ]
