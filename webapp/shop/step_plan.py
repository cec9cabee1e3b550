"""What a step of a routing is, and how its gauge takes its limits from the pattern."""

from collections.abc import Callable
from dataclasses import dataclass

from acoustics.instrument import Instrument
from webapp.models import Stage, StepKind


@dataclass(frozen=True, slots=True)
class Limits:
    """What a gauge should show and how far off it may be [mm]; for a coat, `nominal` is its wait [min]."""

    nominal: float
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One step as the routing has it. `limits` gives None where the pattern says nothing about the size."""

    stage: Stage
    code: str
    name: str
    instruction: str
    kind: StepKind = StepKind.WORK
    gauge: str = ""
    limits: Callable[[Instrument], Limits | None] | None = None
    caution: str = ""
    while_waiting: bool = False


def around(
    size: Callable[[Instrument], float | None], minus: float, plus: float
) -> Callable[[Instrument], Limits | None]:
    """Limits about a size of the pattern [mm], rounded to a hundredth as calipers read."""

    def limits(instrument: Instrument) -> Limits | None:
        nominal = size(instrument)
        if nominal is None:
            return None
        return Limits(round(nominal, 2), round(nominal - minus, 2), round(nominal + plus, 2))

    return limits


def bore_at_foot(instrument: Instrument) -> float:
    return instrument.bore[-1][1]


def outside(instrument: Instrument) -> float:
    """Finished outside size over the bore, where it is widest [mm]."""
    return max(diameter for _, diameter in instrument.bore) + 2 * instrument.body.wall
