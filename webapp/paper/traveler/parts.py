"""What a build traveler consists of, ready to print."""

from dataclasses import dataclass
from datetime import date

from acoustics.flute.instrument import Instrument
from webapp.models import Paper, StepState, Units
from webapp.paper.traveler.dimensions import HoleTable


@dataclass(frozen=True, slots=True)
class StepLine:
    """One step as printed. `done` is open, passed or failed; `record` says how, by whom and when.

    `as_above`: its caution was spelled out at an earlier step, under the same `letter`.
    """

    name: str
    caution: str
    as_above: bool
    letter: str
    gauge: str
    wanted: str
    limits: str
    has_value: bool
    done: StepState
    value: str
    initials: str
    when: str
    remark: str


@dataclass(frozen=True, slots=True)
class StageBlock:
    """One stage with its steps."""

    number: int
    name: str
    steps: tuple[StepLine, ...]


@dataclass(frozen=True, slots=True)
class NoteColumn:
    """One note of the chart: its target in Hz, what the design predicts and what was last read, in cents."""

    fingering: str
    name: str
    target: str
    predicted: str
    reading: str


@dataclass(frozen=True, slots=True)
class Head:
    """What stands in the head of a traveler about its order."""

    order: str = ""
    customer: str = ""
    extras: str = ""
    due_on: date | None = None
    repair: str = ""


@dataclass(frozen=True, slots=True)
class Traveler:
    """Everything on one traveler. All texts are ready to print; only the drawing is still geometry."""

    serial: str
    address: str
    shop: str
    is_demo: bool
    paper: Paper
    units: Units
    key: str
    scale: str
    holes: int
    pitch: str
    order: str
    customer: str
    extras: str
    repair: str  # what kind of repair it is here for; empty: it is being built
    due: str
    wood: str
    wood_cautions: tuple[str, ...]
    pattern: str
    revision: str
    status: str
    instrument: Instrument
    hole_table: HoleTable
    notes: tuple[NoteColumn, ...]
    air: str
    stages: tuple[StageBlock, ...]
