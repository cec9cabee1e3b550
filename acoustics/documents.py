"""What each command takes and gives, as types; JSON Schema is made from them (`schema.py`).

Loaded only where somebody asks for it. The readers beside each class say which values are refused; a test holds the
fields here against them.
"""

from __future__ import annotations

from typing import Annotated, Literal, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from acoustics.belief.corrections import Finishing
from acoustics.blowing.sound import SoundingNote
from acoustics.designing.design import DesignedNote
from acoustics.flute.instrument import Block, Body, Chamber, Finger, Flue, Hole, Window
from acoustics.listening.steadiness import SteadyNote
from acoustics.listening.swells import Swell
from acoustics.tuning.worth import Work

Point = Annotated[tuple[float, float], Field(description="x and diameter [mm]")]
Fingering = Annotated[str, Field(pattern="^[xo]*$", description="x closed, o open, hole 1 (nearest the mouth) first")]
Pair = tuple[float, float]


class InstrumentDocument(TypedDict):
    """One flute; lengths in mm, x from 0 at the splitting edge toward the foot."""

    format: NotRequired[Literal["two-chamber-flute/1"]]
    bore: Annotated[list[Point], Field(min_length=2, description="linear in between, from the plug's face to the foot")]
    body: Body
    window: Window
    holes: NotRequired[list[Hole]]
    foot_holes: NotRequired[list[Hole]]
    flue: NotRequired[Flue | None]
    chamber: NotRequired[Chamber | None]
    block: NotRequired[Block | None]
    finger: NotRequired[Finger | None]


class MoistAir(TypedDict, total=False):
    """Moist air: degrees C, share of saturation, mole fraction of carbon dioxide, kPa."""

    temperature: Annotated[float, Field(ge=0, le=45)]
    relative_humidity: Annotated[float, Field(ge=0, le=1)]
    co2: Annotated[float, Field(ge=0, le=0.1)]
    pressure: Annotated[float, Field(ge=60, le=110)]


class PinnedAir(TypedDict):
    """A medium that is given: m/s, kg/m3, Pa s."""

    speed_of_sound: float
    density: float
    viscosity: NotRequired[float]
    prandtl: NotRequired[float]
    gamma: NotRequired[float]


AirDocument = MoistAir | PinnedAir


class PredictIn(TypedDict):
    """A flute, its air, and the fingerings that are asked about (absent: the standard chart)."""

    instrument: InstrumentDocument
    air: NotRequired[AirDocument]
    fingerings: NotRequired[list[Fingering]]
    modes: NotRequired[Annotated[int, Field(ge=1, description="resonances of each fingering, 2 if absent")]]
    losses: NotRequired[Annotated[bool, Field(description="false: no losses at the wall")]]


class Resonance(TypedDict):
    """Hz, and the quality of the resonance."""

    frequency: float
    q: float


class PredictedNote(TypedDict):
    """A mode that does not exist is null, with the reason."""

    fingering: Fingering
    modes: list[Resonance | None]
    note: str | None
    cents: float | None
    reason: NotRequired[str]


class PredictOut(TypedDict):
    air: PinnedAir
    notes: list[PredictedNote]


class LimitsIn(TypedDict, total=False):
    """mm, centre to centre."""

    spacing: Pair
    diameter: Pair
    hands_gap: Pair
    reach: float
    to_window: float
    to_foot: float


class WindowIn(TypedDict, total=False):
    """What is laid down of the window; the rest is proposed."""

    length: float
    width: float
    wall: float | None
    edge_angle: float
    edge_height: float


class DesignIn(TypedDict):
    """A key, and whatever else is laid down; all but the key have defaults."""

    key: Annotated[str, Field(description="the lowest note, such as A4 or F#4")]
    scale: NotRequired[str]
    holes: NotRequired[int]
    third_hole_closed: NotRequired[bool]
    a4: NotRequired[Annotated[float, Field(description="Hz")]]
    temperament: NotRequired[str | Annotated[list[float], Field(min_length=12, max_length=12)]]
    air: NotRequired[AirDocument]
    bore_diameter: NotRequired[float]
    wall: NotRequired[float]
    outside: NotRequired[Literal["round", "flat"]]
    window: NotRequired[WindowIn]
    stub: NotRequired[float]
    block: NotRequired[Block | None]
    finger: NotRequired[Finger | None]
    limits: NotRequired[LimitsIn]
    drills: NotRequired[list[float] | None]
    second_register_weight: NotRequired[float]


class DesignOut(TypedDict):
    """Where no layout meets the limits the status is 3, and the answer `nearest` (such a document) and `gave`."""

    instrument: InstrumentDocument
    notes: list[DesignedNote]
    limits: list[str]
    warnings: list[str]


class TargetIn(TypedDict):
    fingering: Fingering
    frequency: float


class ReadingIn(TypedDict):
    """Hz, and the flute and the air as they were then; readings of one `session` share its errors."""

    fingering: Fingering
    frequency: float
    instrument: NotRequired[InstrumentDocument | None]
    air: NotRequired[AirDocument | None]
    session: NotRequired[str | None]


class ShopIn(TypedDict, total=False):
    """What a shop has learned: corrections with their spreads."""

    mean: dict[str, float]
    covariance: list[list[float]]
    notes: dict[str, float]
    note_sd: float
    smooth_sd: float
    hole_sd: float
    session_sd: float
    reading_sd: float
    cut_sd: float
    slip: float
    finishing: Finishing
    flutes: float
    family: str


class StepsIn(TypedDict, total=False):
    """mm to which sizes are given."""

    foot: float
    hole: float


class AdviseIn(TypedDict):
    """A flute on the bench, what its notes should be, and what was read so far, oldest first."""

    instrument: InstrumentDocument
    targets: Annotated[list[TargetIn], Field(min_length=1)]
    air: NotRequired[AirDocument]
    readings: NotRequired[list[ReadingIn]]
    shop: NotRequired[ShopIn | None]
    tolerance: NotRequired[Annotated[float, Field(description="cents")]]
    risk: NotRequired[Annotated[float, Field(description="chance that a cut may take of a note too sharp")]]
    drills: NotRequired[list[float] | None]
    smallest_cut: NotRequired[float | None]
    steps: NotRequired[StepsIn]
    work: NotRequired[Work]


NextStep = TypedDict(
    "NextStep",
    {
        "action": Literal["open hole", "shorten foot", "measure", "done", "cannot reach"],
        "hole": "int | None",
        "fingering": "str | None",
        "from": "float | None",
        "to": "float | None",
        "expected_cents": "float | None",
        "sd_cents": "float | None",
        "expected_reading": "float | None",
        "risk_sharp": "float | None",
        "why": str,
    },
)


class AdvisedNote(TypedDict):
    fingering: Fingering
    expected_cents: float
    sd_cents: float
    last_reading_cents: float | None
    set_aside: bool
    finished_cents: float
    finished_sd_cents: float
    chance_sharp: float
    chance_within: float


class Correction(TypedDict):
    mean: float
    sd: float
    unit: str


class OtherKey(TypedDict):
    key: str
    why: str


class LeftToDo(TypedDict):
    cuts: float
    readings: float


class AdviseOut(TypedDict):
    next: NextStep
    notes: list[AdvisedNote]
    corrections: dict[str, Correction]
    other_keys: list[OtherKey]
    left: LeftToDo
    chance_in_tune: float | None


class SoundIn(TypedDict):
    """A flute with a flue, fingerings, and pressures in the slow air chamber [Pa]."""

    instrument: InstrumentDocument
    fingerings: Annotated[list[Fingering], Field(min_length=1)]
    pressures: list[Annotated[float, Field(ge=1, le=20_000)]]
    air: NotRequired[AirDocument]


class SoundOut(TypedDict):
    notes: list[SoundingNote]


class Sourced(TypedDict):
    value: float
    source: str


class AirOut(TypedDict):
    speed_of_sound: Sourced
    density: Sourced
    viscosity: Sourced
    prandtl: Sourced
    gamma: Sourced


class ListenOut(TypedDict):
    """The steady part of each blown note; with --swell what each did as it was blown over its jump."""

    notes: list[SteadyNote]
    swells: NotRequired[list[Swell]]
    remarks: NotRequired[list[str]]
