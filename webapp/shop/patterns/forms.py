"""Forms: to design a pattern, to save one, and to mark a revision as no longer proven."""

from typing import Annotated, Literal

from pydantic import BaseModel, Field, StringConstraints

from webapp.shop.units.keys import Key
from webapp.shop.units.lengths import Length
from webapp.shop.units.sizes import between
from webapp.shop.units.sounding import PitchStandard, Sounding

Note = Annotated[str, StringConstraints(max_length=2000)]


class DesignAsked(Sounding):
    """The key, scale and pitch of a flute, and any of its sizes that are fixed (mm); the rest is designed.

    `third_hole` matters to the minor pentatonic on six holes alone: usually closed throughout the first octave.
    """

    reach: Annotated[Length, between(60.0, 400.0)] | None = None
    bore: Annotated[Length, between(6.0, 40.0)] | None = None
    wall: Annotated[Length, between(1.5, 15.0)] | None = None
    outside: Literal["round", "flat"] = "round"
    third_hole: Literal["closed", "in turn"] | None = None
    window_length: Annotated[Length, between(1.0, 20.0)] | None = None
    window_width: Annotated[Length, between(1.5, 40.0)] | None = None
    window_wall: Annotated[Length, between(0.5, 15.0)] | None = None
    edge_height: Annotated[Length, between(0.0, 15.0)] | None = None
    edge_angle: Annotated[float, Field(ge=10, le=90, allow_inf_nan=False)] | None = None
    stub: Annotated[Length, between(0.0, 40.0)] | None = None
    spacing_least: Annotated[Length, between(8.0, 100.0)] | None = None
    spacing_most: Annotated[Length, between(8.0, 100.0)] | None = None
    hands_gap_least: Annotated[Length, between(0.0, 200.0)] | None = None
    hands_gap_most: Annotated[Length, between(0.0, 200.0)] | None = None
    to_window: Annotated[Length, between(5.0, 500.0)] | None = None
    to_foot: Annotated[Length, between(3.0, 500.0)] | None = None
    smallest_hole: Annotated[Length, between(1.0, 20.0)] | None = None
    largest_hole: Annotated[Length, between(1.0, 20.0)] | None = None
    drills: Literal["rack", "any"] = "rack"
    second_register_weight: Annotated[float, Field(ge=0, le=10, allow_inf_nan=False)] | None = None


class SuggestionAsked(BaseModel):
    """The key that sizes are suggested for, and the sizes already chosen (mm)."""

    key: Key
    a4: PitchStandard = 440.0
    bore: Annotated[Length, between(6.0, 40.0)] | None = None
    wall: Annotated[Length, between(1.5, 15.0)] | None = None


class SavePattern(BaseModel):
    """A design to save. `accept`: the limits that could not be met are accepted."""

    name: Annotated[str, StringConstraints(min_length=1, max_length=80)]
    note: Note = ""
    accept: bool = False


class SaveRevision(BaseModel):
    """A design to save as a new revision of a pattern."""

    note: Annotated[str, StringConstraints(min_length=1, max_length=2000)]
    accept: bool = False


class NoLongerProven(BaseModel):
    """Why a revision is no longer proven."""

    why: Annotated[str, StringConstraints(min_length=1, max_length=500)]
