"""What a step of a routing is, and how its gauge takes its size and limits from the pattern."""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from acoustics.designing.starting import StartSizes
from acoustics.flute.instrument import Instrument
from webapp.models import Measure, Stage, StepKind
from webapp.shop.routings import making, worth

EACH_HOLE = "hole-start"
FIXED = "fixed"
FOOT_HOLES = "foot holes"  # Step.only: the step is left out where the pattern has none
ROUND = "planed flat"  # Step.only: the step is left out where nothing is planed for the seat


@dataclass(frozen=True, slots=True)
class Limits:
    """What a gauge should show and how far off it may be [mm]; for a coat, `nominal` is its wait [min]."""

    nominal: float
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Size:
    """What a gauge should show: a dimension of the pattern (a key of DIMENSIONS, or FIXED) plus `offset` [mm].

    `under` and `over`: how far below and above that it may be [mm]; None where that side has no limit. With `cents`
    both are no wider than moves a note of this flute by so many cents.
    """

    of: str
    offset: float = 0.0
    under: float | None = None
    over: float | None = None
    cents: float | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One step as the routing has it. `minutes`: how long a coat dries. `only`: see FOOT_HOLES.

    `measures`: what sort of size its gauge measures, where that is not said by the dimension that it refers to.
    """

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
    measures: Measure | None = None

    def to_json(self) -> dict[str, Any]:
        """As it lies in a version of a routing."""
        return asdict(self)

    @classmethod
    def from_json(cls, found: Mapping[str, Any]) -> "Step":
        """A step as a version of a routing has it."""
        size, measures = found.get("size"), found.get("measures")
        return cls(
            **{
                **found,
                "stage": Stage(found["stage"]),
                "kind": StepKind(found["kind"]),
                "size": Size(**size) if size else None,
                "measures": Measure(measures) if measures else None,
            }
        )


@dataclass(frozen=True, slots=True)
class Dimension:
    """A size of the pattern that a gauge may refer to; None where this pattern has no such size."""

    words: str
    measures: Measure
    of: Callable[[Instrument, StartSizes | None], float | None]


def _outside(flute: Instrument, _: StartSizes | None = None) -> float:
    return max(diameter for _, diameter in flute.bore) + 2 * flute.body.wall


def _across_chamber(flute: Instrument, _: StartSizes | None = None) -> float | None:
    return flute.chamber.diameter if flute.chamber else None


def _seat(flute: Instrument, _: StartSizes | None = None) -> float | None:
    return making.seat_width(flute) if making.planing_depth(flute) else None


def _flue_floor(flute: Instrument, _: StartSizes | None = None) -> float | None:
    if flute.flue is None or flute.flue.depth >= flute.window_wall:
        return None
    return flute.window_wall - flute.flue.depth


DIMENSIONS: dict[str, Dimension] = {
    "bore-foot": Dimension("the bore at the foot", Measure.WIDTH, lambda flute, _: flute.bore[-1][1]),
    "bore-widest": Dimension(
        "the bore where it is widest", Measure.WIDTH, lambda flute, _: max(d for _, d in flute.bore)
    ),
    "bore-narrowest": Dimension(
        "the bore where it is narrowest", Measure.WIDTH, lambda flute, _: min(d for _, d in flute.bore)
    ),
    "chamber-bore": Dimension("the bore of the slow air chamber", Measure.WIDTH, _across_chamber),
    "chamber-length": Dimension(
        "the length of the slow air chamber",
        Measure.LENGTH,
        lambda flute, _: flute.chamber.length if flute.chamber else None,
    ),
    "foot": Dimension("from the splitting edge to the foot", Measure.LENGTH, lambda flute, _: flute.bore[-1][0]),
    "foot-start": Dimension(
        "from the splitting edge to the foot, as it is first cut",
        Measure.LENGTH,
        lambda _, start: start.foot_first if start else None,
    ),
    "wall": Dimension("the finished wall", Measure.THICKNESS, lambda flute, _: flute.body.wall),
    "outside": Dimension("the finished outside", Measure.THICKNESS, _outside),
    "flue-depth": Dimension(
        "the flue's depth", Measure.DEPTH, lambda flute, _: flute.flue.depth if flute.flue else None
    ),
    "flue-width": Dimension(
        "the flue's width", Measure.WIDTH, lambda flute, _: flute.flue.width if flute.flue else None
    ),
    "flue-length": Dimension(
        "the flue's length", Measure.LENGTH, lambda flute, _: flute.flue.length if flute.flue else None
    ),
    "window-length": Dimension("the window's length", Measure.LENGTH, lambda flute, _: flute.window.length),
    "bore-half": Dimension("half the bore at the foot", Measure.DEPTH, lambda flute, _: flute.bore[-1][1] / 2),
    "seat-width": Dimension("the seat's width", Measure.WIDTH, _seat),
    "flue-floor": Dimension("from the bore up to the floor of the flue", Measure.SIZE, _flue_floor),
    "window-wall": Dimension("the wall at the window", Measure.THICKNESS, lambda flute, _: flute.window_wall),
    "edge-height": Dimension(
        "the splitting edge over the bore", Measure.SIZE, lambda flute, _: making.edge_height(flute) or None
    ),
    "last-hole": Dimension(
        "from the splitting edge to the last finger hole",
        Measure.LENGTH,
        lambda flute, _: flute.holes[-1].x if flute.holes else None,
    ),
    "window-width": Dimension("the window's width", Measure.WIDTH, lambda flute, _: flute.window.width),
}


def measure_of(step: Step) -> Measure:
    """What sort of size the step's gauge measures."""
    of = DIMENSIONS.get(step.size.of) if step.size else None
    return step.measures or (of.measures if of else Measure.SIZE)


def limits_of(size: Size, flute: Instrument, start: StartSizes | None = None) -> Limits | None:
    """Size and limits for this flute; None where it has no such size. A drill's size stays what it is."""
    base = 0.0 if size.of == FIXED else DIMENSIONS[size.of].of(flute, start)
    if base is None:
        return None
    nominal = base + size.offset
    most = worth.off_by(size.of, flute, size.cents) if size.cents is not None else None
    low = None if size.under is None else round(nominal - min(size.under, most or size.under), 6)
    high = None if size.over is None else round(nominal + min(size.over, most or size.over), 6)
    return Limits(round(nominal, 6), low, high)
