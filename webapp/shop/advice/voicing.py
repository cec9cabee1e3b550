"""The fundamental at voicing: where the lowest note stands now, and what is still to come until it is finished."""

import math
from dataclasses import dataclass

from sqlmodel import Session

from acoustics.errors import InvalidInput
from acoustics.tuning.rise import Part, as_voiced, expected_rise
from webapp.models import Blank, Reading, Shop, Stage
from webapp.shop.bench import as_built, cuts, readings
from webapp.shop.settings import air
from webapp.shop.units.pitches import say

UNLIKELY = 3.0  # spreads by which a note lies lower than the model has it: then something is amiss
NEVER = 20.0  # cents of that below which nothing is suspected: the window's correction is not known better
AMISS = (
    "Before anything is cut, blow a little harder, draw a wet finger along the joint and the plug, tape over the "
    "block's seam, and look whether the flue is clear: a leak or a soft breath reads low."
)
METER = 3.0  # cents of one reading: breath and meter (common practice, no published source)
SPARE = 0.5  # mm: less is no foot to cut
CAUSES = {
    "finger holes": "Finger holes: closed, each still adds its chimney",
    "wall": "Turning and sanding: a thinner wall",
    "rounding": "Rounding: wood taken away beside the window",
    "finish": "Finish and last sanding",
}


@dataclass(frozen=True, slots=True)
class Predicted:
    """Cents from the target: `now` as read, `left` if the foot stayed as it is, `end` with the foot as the pattern has
    it, each with one standard deviation; `parts` what does what. `foot` mm now and by the pattern; `wanted` mm off the
    foot that would bring it to its target, None where none would."""

    reading: Reading | None
    now: float | None
    parts: tuple[Part, ...]
    foot_part: float
    rise: float
    sd: float
    foot: float
    foot_of_pattern: float

    @property
    def before_foot(self) -> float | None:
        """Where it ends if no more comes off the foot."""
        return None if self.now is None else self.now + self.rise - self.foot_part

    @property
    def end_sd(self) -> float:
        return math.hypot(self.sd, METER)

    @property
    def wanted(self) -> float | None:
        """mm that the foot will likely lose; None where it is short enough, or nothing is known of its worth."""
        off = self.before_foot
        spare = self.foot - self.foot_of_pattern
        if off is None or off >= 0.0 or spare < SPARE or self.foot_part <= 0.0:
            return None
        return -off * spare / self.foot_part

    def advice(self, tolerance: float) -> str:
        """What follows from it, in one sentence."""
        off = self.before_foot
        if off is None:
            return "Read the lowest note: then what it will come to is shown here."
        if off > tolerance:
            return (
                f"Too high already: even with no more off the foot it would end about {say(off)}. "
                "Check the window's length and the block before going on."
            )
        by_pattern = off + self.foot_part
        if by_pattern < -max(UNLIKELY * self.end_sd, NEVER, tolerance):
            spare = self.foot - self.foot_of_pattern
            where = "with the foot where the pattern has it" if spare >= SPARE else "with the foot as short as it is"
            return f"Lower than it should be: {where} it would end about {say(by_pattern)}. {AMISS}"
        if off < -tolerance and self.wanted is None:
            return (
                f"It would end about {say(off)}, and the foot is as short as the pattern has it: hear it again, and "
                "take more off the foot only in tuning."
            )
        if self.wanted is None:
            return "It will about reach its target by itself: leave the foot alone until it is tuned."
        return "Low enough to be brought up: the rest comes off the foot in tuning, a little at a time."


def predict_end(session: Session, shop: Shop, blank: Blank, last: Reading | None) -> Predicted | None:
    """From the blank as it is at voicing; None where the engine can't predict it."""
    assert blank.id is not None
    built = as_built.of(session, blank)
    foot = cuts.after(cuts.at_first(session, blank), cuts.of_blank(session, blank.id))[0]
    if foot is None or blank.stage is not Stage.VOICING:
        return None
    try:
        now = as_voiced(built.design, built.side, foot)
        rise = expected_rise(now, built.design, air.played(shop))
    except InvalidInput:
        return None
    return Predicted(
        last,
        last.cents if last else None,
        tuple(part for part in rise.parts if part.cause != "foot"),
        rise.part("foot"),
        rise.cents,
        rise.sd,
        foot,
        built.design.foot_x,
    )


def lowest(session: Session, blank: Blank, every: list[Reading]) -> Reading | None:
    """The last reading of the lowest note at voicing."""
    goals = readings.goals_for(session, blank)
    return readings.latest(every, Stage.VOICING).get(goals[0].fingering) if goals else None
