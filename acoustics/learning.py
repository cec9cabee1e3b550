"""What finished flutes teach the shop: corrections by pattern family and in common.

Every flute has its own corrections (see `corrections`), scattered around the mean of its pattern family, and families
around the shop's mean. Means and spreads of all three levels are estimated from the flutes themselves (empirical Bayes:
Efron and Morris 1975, J. Am. Stat. Assoc. 70, 311; by expectation and maximisation: Dempster, Laird and Rubin 1977,
J. R. Stat. Soc. B 39, 1), with the stated wide prior as if it were a few flutes already known, so that a young shop is
not too sure of itself. The first few flutes of a new family start from the shop's mean.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from acoustics import fields
from acoustics.air import PLAYED_FLUTE, Air
from acoustics.corrections import Prior
from acoustics.errors import InvalidInput
from acoustics.heard import Comparison, Reading, Unknowns
from acoustics.implicit import Array
from acoustics.instrument import Instrument
from acoustics.posterior import update
from acoustics.sounding import SHAPE, first_resonances
from acoustics.tuning import MAX_READINGS, reading_from_json

WORTH: Final = 4.0
"""How many flutes the stated spread counts for when the spread from flute to flute is estimated."""
FAMILY_SHARE: Final = 0.5
"""Spread of families around the shop's mean over that of flutes around their family's, before anything is known."""
FAMILY_WORTH: Final = 4.0
"""How many families that counts for."""
NOTE_WORTH: Final = 10.0
"""How many notes the stated spread of single notes counts for."""
MAX_FLUTES: Final = 5000
_ITERATIONS: Final = 60
_FOUR: Final = SHAPE + 1


@dataclass(frozen=True)
class FinishedFlute:
    """A flute with everything that was read on it. `excluded` says why it shall teach nothing; empty if it shall."""

    name: str
    family: str
    instrument: Instrument
    air: Air
    readings: tuple[Reading, ...]
    excluded: str = ""

    @staticmethod
    def from_json(document: object, at: str) -> FinishedFlute:
        """Read ``{"name", "family", "instrument", "air", "readings": [as in advise], "excluded": "why"}``."""
        names = ("name", "family", "instrument", "air", "readings", "excluded")
        given = fields.mapping(document, at, names, required=("instrument", "readings"))
        try:
            flute = Instrument.from_json(given["instrument"])
        except InvalidInput as refused:
            raise InvalidInput(f"{at}.{refused.field}", refused.value, refused.limit) from None
        air = Air.from_json(given["air"], f"{at}.air") if "air" in given else PLAYED_FLUTE
        raw = fields.sequence(given["readings"], f"{at}.readings", MAX_READINGS)
        texts = {name: given.get(name, "") for name in ("name", "family", "excluded")}
        for name, value in texts.items():
            if not isinstance(value, str) or len(value) > 200:
                raise InvalidInput(f"{at}.{name}", value, "must be a text of at most 200 letters")
        return FinishedFlute(
            texts["name"],
            texts["family"],
            flute,
            air,
            tuple(reading_from_json(r, f"{at}.readings[{i}]", flute, air) for i, r in enumerate(raw)),
            texts["excluded"],
        )


@dataclass(frozen=True)
class Evidence:
    """What one flute says by itself: `information` (k, k) and `score` (k,) of a normal likelihood of its corrections
    and notes, in the order of `NAMES` and then of the shop's fingerings; `notes` which of those were read."""

    flute: FinishedFlute
    information: Array
    score: Array
    notes: tuple[str, ...]
    cents: Array
    rows: Array
    fingerings: tuple[str, ...]


@dataclass(frozen=True)
class Level:
    """A mean and its own uncertainty, for a family or for the shop."""

    mean: Array
    covariance: Array
    flutes: int


@dataclass(frozen=True)
class Learnt:
    """What the shop knows now: `common` and `families` levels, `spread` (4, 4) from flute to flute, `note_sd` cents."""

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
            covariance=_symmetric(covariance + self.spread),
            notes=self.notes,
            note_sd=self.note_sd,
            flutes=known.flutes,
            family=family if level is not None else "",
        ).to_json()


@dataclass(frozen=True, slots=True)
class Point:
    """One reading in the plot, in cents above the bare model: as measured, and as predicted before and after.

    `after` uses what all other flutes taught, never the flute itself.
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


def learn(flutes: Sequence[FinishedFlute], base: Prior | None = None) -> Learnt:
    """Corrections from finished flutes; none at all (a reset) gives the stated wide prior back."""
    prior = Prior() if base is None else base
    return _learn([evidence(flute, prior) for flute in flutes if not flute.excluded and flute.readings], prior)


def evidence(flute: FinishedFlute, prior: Prior) -> Evidence:
    """What one flute says, to first order around what it makes most likely.

    Sizes as they were cut are integrated out: each is off by `prior.cut_sd`. Readings that contradict the rest of their
    flute are left out, as on the bench.
    """
    readings = flute.readings
    near = {r.fingering: r.frequency for r in readings}
    now: dict[str, complex] = {}
    for r in readings:
        if r.fingering not in now:
            guess = np.array([near[r.fingering]])
            found = first_resonances(r.instrument, flute.air, [r.fingering], prior.mean[:SHAPE], guess)
            now[r.fingering] = complex(found[0])
    unknowns = Unknowns.of(list(near), [r.instrument for r in readings])
    belief = update(prior, unknowns, readings, Comparison(readings, unknowns, flute.air, now).at)
    good = ~belief.strange
    H = belief.linear.rows[good]
    y = belief.linear.cents[good] + H[:, :SHAPE] @ belief.linear.shape
    known = _FOUR + len(unknowns.notes)
    R = prior.cut_sd**2 * H[:, known:] @ H[:, known:].T + prior.reading_sd**2 * np.eye(len(y))
    A = H[:, :known]
    weighted = np.linalg.solve(R, A)
    kept = [r.fingering for r, keep in zip(readings, good, strict=True) if keep]
    return Evidence(flute, A.T @ weighted, weighted.T @ y, unknowns.notes, y, A, tuple(kept))


def _learn(found: Sequence[Evidence], prior: Prior) -> Learnt:
    fingerings = tuple(dict.fromkeys(f for e in found for f in e.notes))
    index = {f: i for i, f in enumerate(fingerings)}
    families = tuple(dict.fromkeys(e.flute.family for e in found))
    wide = prior.covariance
    spread, between = wide.copy(), FAMILY_SHARE**2 * wide
    note_sd = prior.note_sd
    note_mean = np.array([prior.notes.get(f, 0.0) for f in fingerings])
    family_level = {name: Level(prior.mean, between, 0) for name in families}
    common = Level(prior.mean, wide, 0)
    for _ in range(_ITERATIONS if found else 0):
        before = np.concatenate([common.mean, note_mean])
        common, family_level = _levels(found, families, prior, spread, between, note_mean, index, note_sd)
        scatter, note_scatter, note_sum, note_count = np.zeros((4, 4)), 0.0, np.zeros(len(fingerings)), 0
        heard = np.zeros(len(fingerings))
        for e in found:
            level = family_level[e.flute.family]
            mean, covariance = _of_flute(e, level, spread, note_mean, index, note_sd)
            off = mean[:_FOUR] - level.mean
            scatter += np.outer(off, off) + covariance[:_FOUR, :_FOUR] + level.covariance
            for i, f in enumerate(e.notes):
                at = _FOUR + i
                note_scatter += (mean[at] - note_mean[index[f]]) ** 2 + covariance[at, at]
                note_sum[index[f]] += mean[at]
                heard[index[f]] += 1
                note_count += 1
        spread = (WORTH * wide + scatter) / (WORTH + len(found))
        offs = np.zeros((4, 4))
        for level in family_level.values():
            away = level.mean - common.mean
            offs += np.outer(away, away) + level.covariance
        between = (FAMILY_WORTH * FAMILY_SHARE**2 * wide + offs) / (FAMILY_WORTH + len(families))
        note_sd = float(np.sqrt((NOTE_WORTH * prior.note_sd**2 + note_scatter) / (NOTE_WORTH + note_count)))
        # A note's own mean is drawn to that of the prior as if by one more flute.
        first = np.array([prior.notes.get(f, 0.0) for f in fingerings])
        note_mean = (note_sum + first) / (heard + 1.0)
        if np.max(np.abs(np.concatenate([common.mean, note_mean]) - before) / _scale(prior, len(note_mean))) < 1e-4:
            break
    names = dict(prior.notes) | {f: float(m) for f, m in zip(fingerings, note_mean, strict=True)}
    return Learnt(prior, common, family_level, spread, between, names, note_sd)


def _symmetric(matrix: Array) -> Array:
    """Rounding leaves a covariance a little askew."""
    return np.asarray(0.5 * (matrix + matrix.T))


def _scale(prior: Prior, notes: int) -> Array:
    return np.concatenate([np.sqrt(np.diag(prior.covariance)), np.ones(notes)])


def _levels(
    found: Sequence[Evidence],
    families: Sequence[str],
    prior: Prior,
    spread: Array,
    between: Array,
    note_mean: Array,
    index: Mapping[str, int],
    note_sd: float,
) -> tuple[Level, dict[str, Level]]:
    """Means of shop and families with their uncertainty, given the spreads: normal throughout, solved from below."""
    sums = {name: (np.zeros((4, 4)), np.zeros(4), 0) for name in families}
    for e in found:
        information, score = _about_family(e, spread, note_mean, index, note_sd)
        J, s, n = sums[e.flute.family]
        sums[e.flute.family] = J + information, s + score, n + 1
    J_common, s_common = np.linalg.inv(prior.covariance), np.linalg.solve(prior.covariance, prior.mean)
    for J, s, _ in sums.values():
        # A family's likelihood seen from the shop: wider by the spread of families.
        back = np.linalg.inv(np.eye(4) + J @ between)
        J_common = J_common + back @ J
        s_common = s_common + back @ s
    covariance = np.linalg.inv(J_common)
    covariance = _symmetric(covariance)
    common = Level(covariance @ s_common, covariance, sum(n for _, _, n in sums.values()))
    levels = {}
    for name, (J, s, n) in sums.items():
        own = np.linalg.inv(J + np.linalg.inv(between))
        own = _symmetric(own)
        pull = own @ np.linalg.inv(between)
        mean = own @ s + pull @ common.mean
        levels[name] = Level(mean, own + pull @ common.covariance @ pull.T, n)
    return common, levels


def _about_family(
    e: Evidence, spread: Array, note_mean: Array, index: Mapping[str, int], note_sd: float
) -> tuple[Array, Array]:
    """Information and score of one flute about its family's mean: its own corrections and notes integrated out."""
    k = e.information.shape[0]
    W = np.zeros((k, k))
    W[:_FOUR, :_FOUR] = spread
    W[range(_FOUR, k), range(_FOUR, k)] = max(note_sd, 1e-3) ** 2
    offset = np.concatenate([np.zeros(4), [note_mean[index[f]] for f in e.notes]])
    back = np.linalg.inv(np.eye(k) + e.information @ W)
    J = back @ e.information
    s = back @ (e.score - e.information @ offset)
    return _symmetric(J)[:_FOUR, :_FOUR], s[:_FOUR]


def _of_flute(
    e: Evidence, level: Level, spread: Array, note_mean: Array, index: Mapping[str, int], note_sd: float
) -> tuple[Array, Array]:
    """Mean and covariance of one flute's corrections and notes, given its family's mean."""
    k = e.information.shape[0]
    P = np.zeros((k, k))
    P[:_FOUR, :_FOUR] = np.linalg.inv(spread)
    P[range(_FOUR, k), range(_FOUR, k)] = 1.0 / max(note_sd, 1e-3) ** 2
    mean = np.concatenate([level.mean, [note_mean[index[f]] for f in e.notes]])
    covariance = np.linalg.inv(P + e.information)
    return np.asarray(covariance @ (P @ mean + e.score)), np.asarray(covariance)


def predicted_and_measured(flutes: Sequence[FinishedFlute], base: Prior | None = None) -> list[Point]:
    """The plot's data: every good reading with what was predicted of it before anything was learnt, and after.

    After is honest: each flute is predicted from what all others taught. Cents are of the reading against the bare
    model: `measured`; `before` and `after` what the prior's and the learnt corrections make of it.
    """
    prior = Prior() if base is None else base
    used = [evidence(flute, prior) for flute in flutes if not flute.excluded and flute.readings]
    points = []
    for i, e in enumerate(used):
        others = _learn([*used[:i], *used[i + 1 :]], prior)
        shop = Prior.from_json(others.shop(e.flute.family))
        first = np.concatenate([prior.mean, [prior.notes.get(f, 0.0) for f in e.notes]])
        then = np.concatenate([shop.mean, [shop.notes.get(f, 0.0) for f in e.notes]])
        for fingering, cents, row in zip(e.fingerings, e.cents, e.rows, strict=True):
            points.append(
                Point(e.flute.name, e.flute.family, fingering, float(cents), float(row @ first), float(row @ then))
            )
    return points


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
    found = learn(flutes, base)
    return {
        "common": found.shop(),
        "families": {name: found.shop(name) for name in found.families},
        "points": [point.to_json() for point in predicted_and_measured(flutes, base)],
        "excluded": [{"flute": flute.name, "why": flute.excluded} for flute in flutes if flute.excluded],
    }
