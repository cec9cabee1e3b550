"""What is typed about a routing and its steps, and back again into the fields of a form."""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field, StringConstraints

from webapp.models import Measure, Stage, StepKind, Units
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import LARGEST_ID
from webapp.shop.routings import worth
from webapp.shop.routings.step_plan import DIMENSIONS, EACH_HOLE, FIXED, Size, Step
from webapp.shop.units.durations import Minutes, show_duration
from webapp.shop.units.lengths import Length, show_gauge, show_length
from webapp.shop.units.sizes import between

# What the drawing of a blank listens for: the code of a step, and what one then sees.
SHOWN = {
    "bore": "bored",
    "glue-up": "glued",
    "flue": "its flue cut",
    "window": "its window open",
    "block": "its block on",
    "turned": "turned to its outside",
}
MOST_STEPS = 120

KINDS = [
    (StepKind.WORK, "Work", "done, or not"),
    (StepKind.GAUGE, "A gauge", "a size against its limits"),
    (StepKind.GLUE_UP, "Glue-up", "passed by coming out of the clamps"),
    (StepKind.CURE, "Cure", "passed once the glue has cured"),
    (StepKind.COAT, "A coat", "dries before the next step"),
    (StepKind.FUNDAMENTAL, "The lowest note", "read at the bench"),
    (StepKind.READINGS, "Every note", "read at the bench"),
]


class RoutingAsked(BaseModel):
    """A routing's name, and what it is for."""

    name: Annotated[str, StringConstraints(min_length=1, max_length=60)]
    note: Annotated[str, StringConstraints(max_length=500)] = ""


class NewRouting(RoutingAsked):
    """A further routing begins as a copy of one that is there, or of the built-in one (0)."""

    copy_of: Annotated[int, Field(ge=0, le=LARGEST_ID)] = 0


class StepAsked(BaseModel):
    """One step as it is typed."""

    stage: Stage
    name: Annotated[str, StringConstraints(min_length=1, max_length=70)]
    instruction: Annotated[str, StringConstraints(max_length=560)] = ""
    caution: Annotated[str, StringConstraints(max_length=500)] = ""
    kind: StepKind = StepKind.WORK
    gauge: Annotated[str, StringConstraints(max_length=60)] = ""
    measures: Measure | None = None
    of: Annotated[str, StringConstraints(max_length=30)] = ""
    offset: Annotated[Length, between(-3000, 3000)] = 0.0
    under: Annotated[Length, between(0, 500)] | None = None
    over: Annotated[Length, between(0, 500)] | None = None
    cents: Annotated[float, Field(ge=0.5, le=100, allow_inf_nan=False)] | None = None
    minutes: Minutes | None = None
    only: Literal["", "foot holes", "planed flat"] = ""
    while_waiting: bool = False
    photo: bool = False
    shows: Annotated[str, StringConstraints(max_length=30)] = ""
    after: Annotated[str, StringConstraints(max_length=40)] | None = None  # the step it comes behind; "first": none


def to_step(asked: StepAsked, code: str) -> Step:
    """The step that was typed, checked for sense. Raises Invalid."""
    wrong: dict[str, str] = {}
    size = None
    if asked.kind is StepKind.GAUGE:
        if not asked.gauge:
            wrong["gauge"] = "Say what is measured, and with what."
        if asked.of and asked.of not in (*DIMENSIONS, FIXED, EACH_HOLE):
            wrong["of"] = "Choose one of the list."
        elif asked.of == FIXED and asked.offset <= 0:
            wrong["offset"] = "Write the size it should have."
        elif asked.cents is not None and asked.of not in worth.MOVES:
            wrong["cents"] = "The pitch doesn't follow from what is measured here: leave this empty."
        elif asked.cents is not None and asked.under is None and asked.over is None:
            wrong["cents"] = "Say also how far it may be off at most: less, more, or both."
        elif asked.of:
            size = _size(asked)
        elif asked.under is not None or asked.over is not None or asked.offset:
            wrong["of"] = "Say what these limits are about."
    if asked.kind is StepKind.COAT and asked.minutes is None:
        wrong["minutes"] = "Say how long it dries, such as 4 h."
    if asked.shows and asked.shows not in SHOWN:
        wrong["shows"] = "Choose one of the list."
    if wrong:
        raise Invalid(wrong)
    return Step(
        stage=asked.stage,
        code=code,
        name=asked.name,
        instruction=asked.instruction,
        kind=asked.kind,
        gauge=asked.gauge if asked.kind is StepKind.GAUGE else "",
        size=size,
        caution=asked.caution,
        while_waiting=asked.while_waiting,
        photo=asked.photo,
        minutes=asked.minutes if asked.kind is StepKind.COAT else None,
        only=asked.only,
        measures=asked.measures if asked.kind is StepKind.GAUGE else None,
    )


def _size(asked: StepAsked) -> Size:
    if asked.of == EACH_HOLE:
        return Size(EACH_HOLE)
    return Size(asked.of, asked.offset, asked.under, asked.over, asked.cents)


def as_typed(step: Step, units: Units) -> dict[str, Any]:
    """The step's fields as a form shows them, lengths in this person's units and exact when they are sent back."""
    size = step.size

    def length(mm: float | None) -> str:
        return "" if mm is None else show_length(mm, units, exact=True)

    return {
        "stage": step.stage,
        "name": step.name,
        "instruction": step.instruction,
        "caution": step.caution,
        "kind": step.kind,
        "gauge": step.gauge,
        "measures": step.measures or "",
        "of": size.of if size else "",
        "offset": length(size.offset) if size and size.offset else "",
        "under": length(size.under) if size else "",
        "over": length(size.over) if size else "",
        "cents": f"{size.cents:g}" if size and size.cents is not None else "",
        "minutes": show_duration(step.minutes) if step.minutes else "",
        "only": step.only,
        "while_waiting": step.while_waiting,
        "photo": step.photo,
        "shows": step.code if step.code in SHOWN else "",
    }


def limits_in_words(step: Step, units: Units) -> str:
    """What a gauge should show: 'the finished outside + 1/64", from 0.012" less to 0.024" more'."""
    size = step.size
    if size is None:
        return ""
    if size.of == EACH_HOLE:
        return "each finger hole's start size, under its finished one"
    if size.of == FIXED:
        words = show_length(size.offset, units)
    else:
        words = DIMENSIONS[size.of].words
        if size.offset:
            sign = "+" if size.offset > 0 else "\N{MINUS SIGN}"
            words += f" {sign} {show_length(abs(size.offset), units)}"
    allowed = []
    if size.under is not None:
        allowed.append(f"{show_gauge(size.under, units)} less")
    if size.over is not None:
        allowed.append(f"{show_gauge(size.over, units)} more")
    if not allowed:
        return words
    words += f", up to {' or '.join(allowed)}"
    return words if size.cents is None else f"{words}, and no further than moves a note by {size.cents:g} cents"
