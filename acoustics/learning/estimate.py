"""What the shop learns from finished flutes: corrections by pattern family and in common.

Every flute has its own corrections (see `corrections`), scattered around the mean of its pattern family, and families
around the shop's mean. Means and spreads of all three levels are estimated from the flutes themselves (empirical Bayes:
Efron and Morris 1975, J. Am. Stat. Assoc. 70, 311; see `levels`), with the stated wide prior as if it were a few
flutes already known, so that a young shop is not too sure of itself. The first few flutes of a new family start from
the shop's mean.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from acoustics import fields
from acoustics.belief.corrections import Prior
from acoustics.learning.evidence import Evidence, FinishedFlute, evidence
from acoustics.learning.levels import Level, Levels, levels, symmetric
from acoustics.model.implicit import Array

__all__ = [
    "Evidence",
    "FinishedFlute",
    "Learned",
    "Level",
    "Point",
    "evidence",
    "learn",
    "learn_from",
    "points_from",
    "predicted_and_measured",
    "run",
]

MAX_FLUTES: Final = 5000
_FEW: Final = 6
"""Up to so many flutes a plot learns again without each; of more, one is taken out and the spreads are kept."""


@dataclass(frozen=True)
class Learned:
    """What the shop knows now: `common` and `families` levels, `spread` (4, 4) from flute to flute, `between` from
    family to family, `notes` cents by which single fingerings stand off, `note_sd` cents."""

    base: Prior
    common: Level
    families: Mapping[str, Level]
    spread: Array
    between: Array
    notes: Mapping[str, float]
    note_sd: float

    def shop(self, family: str = "") -> dict[str, Any]:
        """The `shop` object for `advise`, for the next flute of a family; an unknown one gets the common figures."""
        level = self.families.get(family)
        mean, covariance = (
            (self.common.mean, self.common.covariance + self.between)
            if level is None
            else (level.mean, level.covariance)
        )
        known = level or self.common
        return replace(
            self.base,
            mean=mean,
            covariance=symmetric(covariance + self.spread),
            notes=self.notes,
            note_sd=self.note_sd,
            flutes=known.flutes,
            family=family if level is not None else "",
        ).to_json()

    def shops(self) -> dict[str, Any]:
        """``{"common": shop, "families": {name: shop}}``, all that has to be stored."""
        return {"common": self.shop(), "families": {name: self.shop(name) for name in self.families}}


@dataclass(frozen=True, slots=True)
class Point:
    """One reading in the plot, in cents above the bare model: as measured, and as predicted before and after.

    `after` uses what was learned from all other flutes, never from the flute itself.
    """

    flute: str
    family: str
    fingering: str
    measured: float
    before: float
    after: float

    def to_json(self) -> dict[str, Any]:
        """As JSON."""
        return {name: getattr(self, name) for name in ("flute", "family", "fingering", "measured", "before", "after")}


def learn_from(found: Sequence[Evidence], base: Prior | None = None) -> Learned:
    """Corrections from the evidence of each finished flute; from none (a reset), the stated wide prior."""
    prior = Prior() if base is None else base
    every = levels(found, prior)
    names = dict(prior.notes) | dict(zip(every.flutes.fingerings, every.note_mean.tolist(), strict=True))
    families = dict(zip(every.flutes.families, every.family, strict=True))
    return Learned(prior, every.common, families, every.spread, every.between, names, every.note_sd)


def points_from(found: Sequence[Evidence], base: Prior | None = None) -> list[Point]:
    """The plot's data: every good reading with its prediction before anything was learned, and after.

    `after` is a fair test: each flute is predicted from all others. Cents are of the reading against the bare
    model: `measured`; `before` and `after` the same with the prior's and the learned corrections.
    """
    prior = Prior() if base is None else base
    every = levels(found, prior)
    points = []
    for i, e in enumerate(found):
        mean, notes = _from_others(found, i, every) if len(found) > _FEW else _again(found, i, prior)
        first = np.concatenate([prior.mean, [prior.notes.get(f, 0.0) for f in e.notes]])
        then = np.concatenate([mean, [notes.get(f, prior.notes.get(f, 0.0)) for f in e.notes]])
        for fingering, cents, before, after in zip(e.fingerings, e.cents, e.rows @ first, e.rows @ then, strict=True):
            points.append(Point(e.name, e.family, fingering, float(cents), float(before), float(after)))
    return points


def _from_others(found: Sequence[Evidence], i: int, every: Levels) -> tuple[Array, dict[str, float]]:
    mean, notes = every.without(i)
    return mean, dict(zip(every.flutes.fingerings, notes.tolist(), strict=True))


def _again(found: Sequence[Evidence], i: int, prior: Prior) -> tuple[Array, dict[str, float]]:
    others = learn_from([*found[:i], *found[i + 1 :]], prior)
    return others.families.get(found[i].family, others.common).mean, dict(others.notes)


def learn(flutes: Sequence[FinishedFlute], base: Prior | None = None) -> Learned:
    """`learn_from` what each flute says that is not excluded."""
    return learn_from(_all(flutes, base), base)


def predicted_and_measured(flutes: Sequence[FinishedFlute], base: Prior | None = None) -> list[Point]:
    """`points_from` what each flute says that is not excluded."""
    return points_from(_all(flutes, base), base)


def _all(flutes: Sequence[FinishedFlute], base: Prior | None) -> list[Evidence]:
    return [evidence(flute, base) for flute in flutes if not flute.excluded and flute.readings]


def run(document: object) -> dict[str, Any]:
    """Learning as JSON.

    In: ``{"flutes": [{"name", "family", "instrument", "air", "readings", "excluded"}], "shop": {...}}``; `shop` is
    what was known before the first of them, absent for the stated wide prior.

    Out: ``{"common": shop, "families": {name: shop}, "points": [{"flute", "family", "fingering", "measured", "before",
    "after"}], "excluded": [{"flute", "why"}]}``. Each shop is the object that `advise` takes
    (`corrections.Prior.from_json` describes it). Raises InvalidInput.
    """
    given = fields.mapping(document, "", ("flutes", "shop"), required=("flutes",))
    raw = fields.sequence(given["flutes"], "flutes", MAX_FLUTES)
    flutes = [FinishedFlute.from_json(flute, f"flutes[{i}]") for i, flute in enumerate(raw)]
    base = Prior.from_json(given.get("shop"))
    found = _all(flutes, base)
    return {
        **learn_from(found, base).shops(),
        "points": [point.to_json() for point in points_from(found, base)],
        "excluded": [{"flute": flute.name, "why": flute.excluded} for flute in flutes if flute.excluded],
    }
