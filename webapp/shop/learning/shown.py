"""What the shop has learned, in numbers and words with their uncertainty, and which flutes it learned from."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from sqlmodel import Session, select

from acoustics.belief.corrections import NAMES, WIDE
from webapp.models import Blank, Evidence, LearningReset, Pattern, Shop
from webapp.shop.base.finding import find
from webapp.shop.bench import finished_flutes
from webapp.shop.bench.finished_flutes import Pupil
from webapp.shop.learning import corrections
from webapp.shop.units.keys import show_note

LATELY: Final = 10  # flutes that are the last ones
FEW: Final = 3  # fewer tell nothing of what is usual
A_YEAR: Final = timedelta(days=365)
WHAT: Final = {
    "window": ("The window", "of the bore's radius", "acts longer than the model has it", "acts shorter"),
    "bore": ("The bore", "%", "acts wider than it measures", "acts narrower than it measures"),
    "holes": ("Finger holes", "%", "act wider than they measure", "act narrower than they measure"),
    "air": ("The breath", "cents", "stands above the stated air", "stands below the stated air"),
}


@dataclass(frozen=True, slots=True)
class Figure:
    """One correction: its mean, how sure that is, how far flutes scatter about it; what was stated before any flute.

    In `unit`; each plus or minus is one standard deviation.
    """

    name: str
    unit: str
    digits: int
    mean: float
    sure: float
    scatter: float
    stated: float
    words: str

    def say(self, value: float) -> str:
        return f"{value:.{self.digits}f}"

    @property
    def sentence(self) -> str:
        """For people: what it means, in one sentence."""
        nothing = abs(self.mean) < 2 * self.sure
        told = f"{self.name} {self.words} by {self.say(abs(self.mean))} {self.unit}, give or take "
        return told + self.say(2 * self.sure) + (": it may still be nothing." if nothing else ".")


@dataclass(frozen=True, slots=True)
class Family:
    """How far the last readings of a pattern's flutes stood from what was predicted before and after [cents]."""

    pattern_id: int | None
    name: str
    flutes: int
    notes: int
    before: tuple[float, float]
    after: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Step:
    """One finished flute on the shop's way: how far its first readings stood from what the flutes before it made
    expect, and from the model alone [cents, root mean square over its notes]."""

    flute: str
    pattern_id: int
    at: datetime
    off: float
    alone: float


@dataclass(frozen=True, slots=True)
class Listed:
    """A finished flute in the list: whether the shop learns from it, and if not, why."""

    pupil: Pupil
    fault: str
    is_in: bool


@dataclass(frozen=True, slots=True)
class Told:
    """All that the screen shows."""

    flutes: int
    made_at: datetime | None
    figures: tuple[Figure, ...]
    families: tuple[Family, ...]
    course: tuple[Step, ...]
    finish: dict[str, Any] | None
    listed: tuple[Listed, ...]

    @property
    def in_all(self) -> Family | None:
        return next((family for family in self.families if family.pattern_id is None), None)

    @property
    def now_and_then(self) -> tuple[float, float | None] | None:
        """Cents by which first readings usually stand off where they should: of the last flutes, and of those that were
        the last a year before; None where there are too few."""
        if len(self.course) < FEW:
            return None
        a_year_ago = self.course[-1].at - A_YEAR
        before = [one for one in self.course if one.at <= a_year_ago][-LATELY:]
        return usual(self.course[-LATELY:]), usual(before) if len(before) >= FEW else None

    @property
    def most_told(self) -> Figure | None:
        """The correction that moved farthest, in its stated spread, where that is more than chance."""
        sure = [figure for figure in self.figures if self.flutes and abs(figure.mean) >= 2 * figure.sure]
        return max(sure, key=lambda figure: abs(figure.mean) / figure.stated, default=None)

    def pattern_now(self, pattern_id: int) -> float | None:
        """Cents by which first readings of a pattern's last flutes stood off; None of none."""
        own = [one for one in self.course if one.pattern_id == pattern_id][-LATELY:]
        return usual(own) if own else None

    @property
    def faults(self) -> list[tuple[str, int]]:
        """Why nothing can be learned from flutes, and how many of each."""
        found: dict[str, int] = {}
        for one in self.listed:
            if one.pupil.counts and one.fault:
                found[one.fault] = found.get(one.fault, 0) + 1
        return sorted(found.items(), key=lambda pair: (-pair[1], pair[0]))


def told(session: Session, shop: Shop) -> Told:
    """The state of the learning; of a new shop, or after a reset, the stated wide prior."""
    found = corrections.stored(session)
    document = found.document if found is not None and found.document["flutes"] else None
    names = {i: show_note(name) for i, name in session.exec(select(Pattern.id, Pattern.name)).all()}
    everyone = finished_flutes.pupils(session)
    evidence = dict(session.exec(select(Evidence.blank_id, Evidence.fault)).all())
    listed = tuple(
        Listed(pupil, evidence.get(pupil.blank_id, ""), pupil.counts and evidence.get(pupil.blank_id) == "")
        for pupil in everyone
    )
    if document is None or found is None:
        return Told(0, None, _stated(), (), (), None, listed)
    return Told(
        document["flutes"],
        found.made_at,
        _figures(document),
        _families(document, names),
        _course(document.get("course", ())),
        document["coats"] if document["coats"]["flutes"] else None,
        listed,
    )


def flute(session: Session, blank_id: int) -> Listed:
    """One finished flute. Raises NotFound."""
    blank = find(session, Blank, blank_id, "blank")
    pupil = next((one for one in finished_flutes.pupils(session) if one.blank_id == blank_id), None)
    if pupil is None:
        moment = blank.finished_at or blank.opened_at
        pupil = Pupil(blank_id, blank.serial, 0, "", moment, False, "It is not finished, or was before the reset.")
    row = session.get(Evidence, blank_id)
    return Listed(pupil, row.fault if row else "", pupil.counts)


def reset(session: Session, reset_id: int) -> LearningReset:
    """One row of the history of resets. Raises NotFound."""
    return find(session, LearningReset, reset_id, "reset")


def _figures(document: dict[str, Any]) -> tuple[Figure, ...]:
    level, spread = document["levels"][""], document["spread"]
    return tuple(
        _figure(name, level["mean"][i], math.sqrt(level["covariance"][i][i]), math.sqrt(spread[i][i]))
        for i, name in enumerate(NAMES)
    )


def _stated() -> tuple[Figure, ...]:
    return tuple(_figure(name, 0.0, WIDE[name], WIDE[name]) for name in NAMES)


def _figure(name: str, mean: float, sure: float, scatter: float) -> Figure:
    what, unit, more, less = WHAT[name]
    scale = 100.0 if unit == "%" else 1.0
    digits = 1 if name == "air" else 2
    return Figure(
        what,
        unit,
        digits,
        scale * mean,
        scale * sure,
        scale * scatter,
        scale * WIDE[name],
        more if mean > 0 else less,
    )


def _families(document: dict[str, Any], names: dict[int | None, str]) -> tuple[Family, ...]:
    found = []
    for key, errors in document["errors"].items():
        if not errors["before"]:
            continue
        which = int(key) if key else None
        flutes = document["families"][key]["flutes"] if key else document["flutes"]
        pairs = [(errors[when]["mean"], errors[when]["rms"]) for when in ("before", "after")]
        name = names.get(which, "") if which is not None else "All together"
        found.append(Family(which, name, flutes, errors["notes"], pairs[0], pairs[1]))
    return tuple(sorted(found, key=lambda family: (family.pattern_id is not None, -family.flutes, family.name)))


def _course(steps: Sequence[dict[str, Any]]) -> tuple[Step, ...]:
    return tuple(
        Step(one["flute"], int(one["family"]), datetime.fromisoformat(one["at"]), one["off"], one["alone"])
        for one in steps
    )


def usual(steps: Sequence[Step]) -> float:
    """Cents by which the first readings of some flutes stood off (root mean square)."""
    return math.sqrt(sum(one.off**2 for one in steps) / len(steps))


def running(steps: Sequence[Step]) -> list[tuple[datetime, float]]:
    """What was usual after each flute, over the last `LATELY`."""
    return [
        (one.at, usual(steps[max(0, i + 1 - LATELY) : i + 1])) for i, one in enumerate(steps) if i + 1 >= min(3, LATELY)
    ]
