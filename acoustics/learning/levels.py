"""A shop's flutes in levels: each scattered around its pattern family, families around the shop.

Normal throughout; means are solved for in closed form, spreads by expectation and maximisation (Dempster, Laird and
Rubin 1977, J. R. Stat. Soc. B 39, 1). All flutes are worked at once, (n, K, K) arrays over the four corrections and an
offset for every fingering that any of them was read with; a fingering that one was not read with says nothing there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from acoustics.belief.corrections import Prior
from acoustics.learning.evidence import FOUR, Evidence
from acoustics.model.implicit import Array, Bool

WORTH: Final = 4.0
"""How many flutes the stated spread counts for when the spread from flute to flute is estimated."""
FAMILY_SHARE: Final = 0.5
"""Spread of families around the shop's mean over that of flutes around their family's, before anything is known."""
FAMILY_WORTH: Final = 4.0
"""How many families that counts for."""
NOTE_WORTH: Final = 10.0
"""How many notes the stated spread of single notes counts for."""
_ITERATIONS: Final = 150
_SETTLED: Final = 1e-4
"""Share of the stated spreads that a round may still move the means by, and of themselves the spreads, at the end."""

Sums = tuple[Array, Array, int]
"""The evidence of all flutes of a family on its mean: information (4, 4) and score (4,), and how many they are."""


@dataclass(frozen=True)
class Level:
    """A mean (4,) and its own uncertainty (4, 4), for a family or for the shop, from so many flutes."""

    mean: Array
    covariance: Array
    flutes: int


@dataclass(frozen=True)
class Flutes:
    """The evidence of n flutes side by side. `heard` (n, F): which fingerings were read on which."""

    families: tuple[str, ...]
    family: np.ndarray[tuple[int], np.dtype[np.intp]]
    fingerings: tuple[str, ...]
    information: Array
    score: Array
    heard: Bool

    @staticmethod
    def of(found: Sequence[Evidence]) -> Flutes:
        """Those of some evidence."""
        fingerings = tuple(dict.fromkeys(f for e in found for f in e.notes))
        families = tuple(dict.fromkeys(e.family for e in found))
        place = {f: FOUR + i for i, f in enumerate(fingerings)}
        K = FOUR + len(fingerings)
        information, score = np.zeros((len(found), K, K)), np.zeros((len(found), K))
        heard = np.zeros((len(found), len(fingerings)), dtype=bool)
        for i, e in enumerate(found):
            at = np.array([*range(FOUR), *(place[f] for f in e.notes)])
            information[i][np.ix_(at, at)] = e.information
            score[i, at] = e.score
            heard[i, at[FOUR:] - FOUR] = True
        rank = {name: i for i, name in enumerate(families)}
        return Flutes(families, np.array([rank[e.family] for e in found], int), fingerings, information, score, heard)

    def __len__(self) -> int:
        return len(self.family)


@dataclass(frozen=True)
class Levels:
    """All means and spreads: `spread` (4, 4) from flute to flute, `between` (4, 4) from family to family.

    `note_mean` (F,) is of the fingerings, `note_first` what it was before any flute, `own` (n, F) what each flute made
    of it; `about` are (n, 4, 4) and (n, 4), what each flute says of its family's mean.
    """

    flutes: Flutes
    prior: Prior
    spread: Array
    between: Array
    note_sd: float
    note_first: Array
    note_mean: Array
    own: Array
    about: tuple[Array, Array]
    common: Level
    family: tuple[Level, ...]

    def without(self, i: int) -> tuple[Array, Array]:
        """Means of flute i's family (4,) and of the fingerings (F,) had it not been among the flutes.

        Only the spreads, which weight it, still depend on it.
        """
        rank = int(self.flutes.family[i])
        J, s, n = self.sums[rank]
        sums = [*self.sums]
        sums[rank] = (J - self.about[0][i], s - self.about[1][i], n - 1)
        _, family = _solve(sums, self.prior, self.between)
        heard = self.heard_on - self.flutes.heard[i]
        notes = (self.own_sum - self.own[i] + self.note_first) / (heard + 1.0)
        return family[rank].mean, np.asarray(notes)

    @cached_property
    def sums(self) -> list[Sums]:
        """Of `about`, by family."""
        return _sums(self.flutes, self.about)

    @cached_property
    def own_sum(self) -> Array:
        """Of `own` over all flutes (F,)."""
        return np.asarray(self.own.sum(axis=0))

    @cached_property
    def heard_on(self) -> Array:
        """On how many flutes each fingering was read (F,)."""
        return np.asarray(self.flutes.heard.sum(axis=0), np.float64)


def levels(found: Sequence[Evidence], prior: Prior) -> Levels:
    """Everything estimated from some flutes; from none, what is stated."""
    flutes = Flutes.of(found)
    n, wide = len(flutes), prior.covariance
    spread, between, note_sd = wide.copy(), FAMILY_SHARE**2 * wide, prior.note_sd
    first = np.array([prior.notes.get(f, 0.0) for f in flutes.fingerings])
    note_mean, own = first, np.zeros((n, len(first)))
    scale = np.concatenate([np.sqrt(np.diag(prior.covariance)), np.ones(len(first))])
    about = np.zeros((n, FOUR, FOUR)), np.zeros((n, FOUR))
    common, family = _solve(_sums(flutes, about), prior, between)
    for _ in range(_ITERATIONS if n else 0):
        before = np.concatenate([common.mean, note_mean]), np.concatenate([np.diag(spread), np.diag(between)])
        about = _about_family(flutes, spread, note_mean, note_sd)
        sums = _sums(flutes, about)
        common, family = _solve(sums, prior, between)
        means = np.array([level.mean for level in family])
        unsure = np.array([level.covariance for level in family])
        mean, covariance = _each(flutes, means[flutes.family], spread, note_mean, note_sd)
        off = mean[:, :FOUR] - means[flutes.family]
        # A flute that says little follows its family's mean wherever that is: only what is left moves them apart.
        apart = covariance[:, :FOUR, :FOUR] @ np.linalg.inv(spread) - np.eye(FOUR)
        scatter = off.T @ off + covariance[:, :FOUR, :FOUR].sum(axis=0)
        scatter += np.sum(apart @ unsure[flutes.family] @ apart.swapaxes(1, 2), axis=0)
        variance = np.diagonal(covariance, axis1=1, axis2=2)[:, FOUR:]
        note_scatter = np.sum(((mean[:, FOUR:] - note_mean) ** 2 + variance) * flutes.heard)
        own = mean[:, FOUR:] * flutes.heard
        spread = (WORTH * wide + scatter) / (WORTH + n)
        away = means - common.mean
        offs = away.T @ away + _unsure_of_common(sums, between, common)
        between = (FAMILY_WORTH * FAMILY_SHARE**2 * wide + offs) / (FAMILY_WORTH + len(family))
        count = NOTE_WORTH + np.sum(flutes.heard)
        note_sd = float(np.sqrt((NOTE_WORTH * prior.note_sd**2 + note_scatter) / count))
        # A note's own mean is drawn to that of the prior as if by one more flute.
        note_mean = (own.sum(axis=0) + first) / (flutes.heard.sum(axis=0) + 1.0)
        moved = np.abs(np.concatenate([common.mean, note_mean]) - before[0]) / scale
        wider = np.abs(np.concatenate([np.diag(spread), np.diag(between)]) / before[1] - 1.0)
        if max(np.max(moved), np.max(wider)) < _SETTLED:
            break
    return Levels(flutes, prior, spread, between, note_sd, first, note_mean, own, about, common, family)


def symmetric(matrix: Array) -> Array:
    """Rounding leaves a covariance a little askew."""
    return np.asarray(0.5 * (matrix + matrix.swapaxes(-1, -2)))


def _sums(flutes: Flutes, about: tuple[Array, Array]) -> list[Sums]:
    """Information, score and number of the flutes of each family."""
    found = []
    for rank in range(len(flutes.families)):
        mine = flutes.family == rank
        found.append((about[0][mine].sum(axis=0), about[1][mine].sum(axis=0), int(mine.sum())))
    return found


def _solve(sums: Sequence[Sums], prior: Prior, between: Array) -> tuple[Level, tuple[Level, ...]]:
    """Means of shop and families with their uncertainty, given the spreads: solved from below."""
    J_common, s_common = np.linalg.inv(prior.covariance), np.linalg.solve(prior.covariance, prior.mean)
    for J, s, _ in sums:
        # A family's likelihood seen from the shop: wider by the spread of families.
        back = np.linalg.inv(np.eye(FOUR) + J @ between)
        J_common = J_common + back @ J
        s_common = s_common + back @ s
    covariance = symmetric(np.linalg.inv(J_common))
    common = Level(covariance @ s_common, covariance, sum(n for _, _, n in sums))
    levels = []
    for J, s, n in sums:
        own, pull = _drawn(J, between)
        levels.append(Level(own @ s + pull @ common.mean, own + pull @ common.covariance @ pull.T, n))
    return common, tuple(levels)


def _drawn(J: Array, between: Array) -> tuple[Array, Array]:
    """How unsure a family's mean is were the shop's known (4, 4), and how far it follows that (4, 4)."""
    own = symmetric(np.linalg.inv(J + np.linalg.inv(between)))
    return own, own @ np.linalg.inv(between)


def _unsure_of_common(sums: Sequence[Sums], between: Array, common: Level) -> Array:
    """How unsure the ways from the shop's mean to those of its families are, summed over these (4, 4)."""
    total = np.zeros((FOUR, FOUR))
    for J, _, _ in sums:
        own, pull = _drawn(J, between)
        apart = pull - np.eye(FOUR)
        total += own + apart @ common.covariance @ apart.T
    return symmetric(total)


def _about_family(flutes: Flutes, spread: Array, note_mean: Array, note_sd: float) -> tuple[Array, Array]:
    """What each flute says of its family's mean, (n, 4, 4) and (n, 4): its own corrections and notes integrated out."""
    K = flutes.information.shape[1]
    W = np.zeros((K, K))
    W[:FOUR, :FOUR] = spread
    W[range(FOUR, K), range(FOUR, K)] = max(note_sd, 1e-3) ** 2
    offset = np.concatenate([np.zeros(FOUR), note_mean])
    back = np.linalg.inv(np.eye(K) + flutes.information @ W)
    J = symmetric(back @ flutes.information)
    s = back @ (flutes.score - flutes.information @ offset)[..., None]
    return J[:, :FOUR, :FOUR], s[:, :FOUR, 0]


def _each(flutes: Flutes, family_mean: Array, spread: Array, note_mean: Array, note_sd: float) -> tuple[Array, Array]:
    """Mean (n, K) and covariance (n, K, K) of each flute's corrections and notes, given its family's mean (n, 4)."""
    K = flutes.information.shape[1]
    P = np.zeros((K, K))
    P[:FOUR, :FOUR] = np.linalg.inv(spread)
    P[range(FOUR, K), range(FOUR, K)] = 1.0 / max(note_sd, 1e-3) ** 2
    mean = np.concatenate([family_mean, np.broadcast_to(note_mean, (len(flutes), len(note_mean)))], axis=1)
    covariance = np.linalg.inv(P + flutes.information)
    pulled = covariance @ (mean @ P + flutes.score)[..., None]
    return np.asarray(pulled[..., 0]), np.asarray(covariance)
