"""What a step of a routing is, and how its gauge takes its size and limits from the pattern."""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from acoustics.designing.starting import StartSizes
from acoustics.flute.instrument import Instrument
from webapp.models import Stage, StepKind

EACH_HOLE = "hole-start"
FIXED = "fixed"
FOOT_HOLES = "foot holes"  # Step.only: the step is left out where the pattern has none


@dataclass(frozen=True, slots=True)
class Limits:
    """What a gauge should show and how far off it may be [mm]; for a coat, `nominal` is its wait [min]."""

    nominal: float
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Size:
    """What a gauge should show: a dimension of the pattern (a key of DIMENSIONS, or FIXED) plus `offset` [mm].

    `under` and `over`: how far below and above that it may be [mm]; None where that side has no limit.
    """

    of: str
    offset: float = 0.0
    under: float | None = None
    over: float | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One step as the routing has it. `minutes`: how long a coat dries. `only`: see FOOT_HOLES."""

    stage: Stage
    code: str
    name: str
    instruction: str = ""
    kind: StepKind = StepKind.WORK
    gauge: str = ""
    size: Size | None = None
    caution: str = ""
    while_waiting: bool = False
    photo: bool = False
    minutes: int | None = None
    only: str = ""

    def to_json(self) -> dict[str, Any]:
        """As it lies in a version of a routing."""
        return asdict(self)

    @classmethod
    def from_json(cls, found: Mapping[str, Any]) -> "Step":
        """A step as a version of a routing has it."""
        size = found.get("size")
        return cls(
            **{
                **found,
                "stage": Stage(found["stage"]),
                "kind": StepKind(found["kind"]),
                "size": Size(**size) if size else None,
            }
        )


@dataclass(frozen=True, slots=True)
class Dimension:
    """A size of the pattern that a gauge may refer to; None where this pattern has no such size."""

    words: str
    of: Callable[[Instrument, StartSizes | None], float | None]


def _outside(flute: Instrument, _: StartSizes | None = None) -> float:
    return max(diameter for _, diameter in flute.bore) + 2 * flute.body.wall


def _across_chamber(flute: Instrument, _: StartSizes | None = None) -> float | None:
    return flute.chamber.diameter if flute.chamber else None


DIMENSIONS: dict[str, Dimension] = {
    "bore-foot": Dimension("the bore at the foot", lambda flute, _: flute.bore[-1][1]),
    "bore-widest": Dimension("the bore where it is widest", lambda flute, _: max(d for _, d in flute.bore)),
    "bore-narrowest": Dimension("the bore where it is narrowest", lambda flute, _: min(d for _, d in flute.bore)),
    "chamber-bore": Dimension("the bore of the slow air chamber", _across_chamber),
    "chamber-length": Dimension(
        "the length of the slow air chamber", lambda flute, _: flute.chamber.length if flute.chamber else None
    ),
    "foot": Dimension("from the splitting edge to the foot", lambda flute, _: flute.bore[-1][0]),
    "foot-start": Dimension(
        "from the splitting edge to the foot, as it is first cut", lambda _, start: start.foot_first if start else None
    ),
    "wall": Dimension("the finished wall", lambda flute, _: flute.body.wall),
    "outside": Dimension("the finished outside", _outside),
    "flue-depth": Dimension("the flue's depth", lambda flute, _: flute.flue.depth if flute.flue else None),
    "flue-width": Dimension("the flue's width", lambda flute, _: flute.flue.width if flute.flue else None),
    "flue-length": Dimension("the flue's length", lambda flute, _: flute.flue.length if flute.flue else None),
    "window-length": Dimension("the window's length", lambda flute, _: flute.window.length),
    "window-width": Dimension("the window's width", lambda flute, _: flute.window.width),
}


def limits_of(size: Size, flute: Instrument, start: StartSizes | None = None) -> Limits | None:
    """Size and limits for this flute, to a hundredth of a mm as calipers read; None where it has no such size."""
    base = 0.0 if size.of == FIXED else DIMENSIONS[size.of].of(flute, start)
    if base is None:
        return None
    nominal = base + size.offset
    low = None if size.under is None else round(nominal - size.under, 2)
    high = None if size.over is None else round(nominal + size.over, 2)
    return Limits(round(nominal, 2), low, high)
