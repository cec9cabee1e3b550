"""The state of belief about one flute and its update by readings.

Everything uncertain is normal before the readings; a reading is the corrected model plus noise. The model bends only a
little within that uncertainty, so that Gauss-Newton steps, each linear in closed form, settle in two or three (Bell and
Cathey 1993, IEEE Trans. Autom. Control 38, 294: the iterated Kalman update is Gauss-Newton on the posterior). How wide
corrections, single notes and noise spread is not known either: several answers (`WIDTHS`) are weighed by their evidence
and mixed. A reading weighs as much as the chance that it is a good one, judged by what all others say of it
(iteratively reweighted least squares: Holland and Welsch 1977, Commun. Stat. A 6, 813, with the weights of a normal
contaminated by a wider one).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.special import ndtr

from acoustics.belief.corrections import COUNT, LIMITS, NAMES, SHAPE, Prior
from acoustics.belief.heard import SITTING, Linear, Reading, Unknowns
from acoustics.model.implicit import Array

WRONG: Final = 0.06
"""Share of readings that are off for a reason of their own (a bad breath, another fingering): an estimate."""
_WIDELY: Final = 35.0
"""Cents by which those scatter."""
STRANGE: Final = 0.3
"""A reading with less chance to be a good one is set aside."""
_LEAST: Final = 1e-4
"""A reading never weighs less."""


class Width(NamedTuple):
    """Multiples of the stated spreads: of the corrections, of what stands off without a name (notes, holes, sittings),
    and of the readings' noise; how likely they are at first (an estimate); and the multiple of the error of cuts."""

    corrections: float
    nameless: float
    noise: float
    odds: float
    cuts: float = 1.0

    @property
    def sitting(self) -> float:
        """The multiple of what a sitting shares: a few sittings never show that they share nothing."""
        return max(self.nameless, _SITTING_LEAST)


WIDTHS: Final = (
    Width(1.0, 0.2, 1.0, 0.20),
    Width(2.0, 0.2, 1.0, 0.08),
    Width(1.0, 1.0, 1.0, 0.30),
    Width(2.0, 1.0, 1.0, 0.12),
    Width(1.0, 1.8, 1.0, 0.14),
    Width(2.0, 1.8, 1.2, 0.07),
    Width(4.0, 1.0, 1.0, 0.02),
    Width(1.0, 0.2, 1.8, 0.03),
    Width(2.0, 2.5, 1.8, 0.04),
    # A cut has slipped, nobody knows which.
    Width(1.0, 0.2, 1.0, 0.03, 6.0),
    Width(1.5, 1.0, 1.0, 0.06, 6.0),
)
COLD: Final = 0.7
"""Cents by which a cold flute is expected to read flat, in the spread of what a sitting shares: an estimate."""
_SITTING_LEAST: Final = 0.8
_HARDLY: Final = 1e-4
"""Parts of the mixture that weigh less are left out."""
ITERATIONS: Final = 4
ROUNDS: Final = 4
"""Times that readings are weighed again."""
_NEIGHBOUR: Final = 0.35
"""Octaves within which notes share what stands off smoothly."""
OWN: Final = 60.0
"""Cents by which a note may stand off by itself once several readings agree on it against all else."""
AGREE: Final = 3
"""Readings that agree are believed against the model."""
_BEYOND: Final = 5.0
"""Stated spreads beyond which a reading is not believed, however many agree with it."""
_FAR: Final = 170.0
"""Cents beyond which agreeing readings are rather of another fingering or register, or the sizes entered are wrong."""

_FARTHEST: Final = np.array([LIMITS[name] for name in NAMES[:SHAPE]])
"""No correction is believed beyond this, however the readings contradict one another."""


class Part(NamedTuple):
    """One normal that the belief is mixed from: its weight, how far its mean lies from the whole's, its covariance."""

    weight: float
    off: Array
    covariance: Array


@dataclass(frozen=True)
class Posterior:
    """Belief about one flute.

    `mean` and `covariance` are of all `unknowns`, those of the mixture of `parts`. Of each reading: `good` is the
    chance that it is a good one, `strange` whether it was set aside, `residual` (cents) and `z` compare it with all
    others. `own` are notes that are believed to stand off by themselves, since several readings agree on it. `width` is
    the one that the readings speak for most.
    """

    prior: Prior
    unknowns: Unknowns
    mean: Array
    covariance: Array
    readings: tuple[Reading, ...]
    good: Array
    strange: NDArray[np.bool_]
    residual: Array
    z: Array
    own: frozenset[str]
    width: Width
    linear: Linear
    parts: tuple[Part, ...]

    @property
    def shape(self) -> Array:
        """Window, bore and holes."""
        return self.mean[:SHAPE]

    @property
    def sitting(self) -> int:
        """How many readings the last sitting has."""
        return int(np.count_nonzero(self.linear.rows[:, self.unknowns.sitting.start]))

    def heard(self, rows: Array, fingerings: Sequence[str]) -> Array:
        """Rates (n, unknowns) of the next readings of notes whose own are `rows`: with what the sitting adds."""
        found = rows.copy()
        before, named = self.sitting, bool(self.readings) and self.readings[-1].session is not None
        for i, fingering in enumerate(fingerings):
            found[i, self.unknowns.sitting] = self.unknowns.shared(fingering, before, named)
        return found


@dataclass(frozen=True)
class _Known:
    """What is known before any reading: the covariance is the sum of these, each by its width."""

    mean: Array
    named: Array
    nameless: Array
    cut: Array
    own: Array
    sitting: Array

    def at(self, width: Width) -> Array:
        found = self.named * width.corrections**2 + self.nameless * width.nameless**2 + self.cut * width.cuts**2
        return found + self.own + self.sitting * width.sitting**2


def prior_of(prior: Prior, unknowns: Unknowns, own: frozenset[str] = frozenset()) -> _Known:
    """Mean and covariance of all unknowns before any reading; notes that are `own` may stand anywhere."""
    size = len(unknowns)
    mean, named, nameless, cut, apart, sitting = np.zeros(size), *(np.zeros((size, size)) for _ in range(5))
    mean[:COUNT] = prior.mean
    named[:COUNT, :COUNT] = prior.covariance
    pitch = np.array(unknowns.pitches)
    smooth = prior.smooth_sd**2 * np.exp(-0.5 * ((pitch[:, None] - pitch[None, :]) / _NEIGHBOUR) ** 2)
    notes = slice(COUNT, COUNT + len(pitch))
    nameless[notes, notes] = smooth + prior.note_sd**2 * np.eye(len(pitch))
    for fingering in unknowns.notes:
        at = unknowns.note(fingering)
        mean[at] = prior.notes.get(fingering, 0.0)
        if fingering in own:
            apart[at, at] = OWN**2
    for control in {size.control for size in unknowns.sizes}:
        made = [size for size in unknowns.sizes if size.control == control]
        made.sort(key=lambda size: size.value, reverse=control == 0)
        places = np.array([unknowns.size(size) for size in made])
        sign = -1.0 if control == 0 else 1.0
        sizes = [size.value for size in made]
        mean[places], cut[np.ix_(places, places)] = _cut_in_turn(sizes, sign, prior.cut_sd)
    for number in range(1, unknowns.holes + 1):
        nameless[unknowns.hole(number), unknowns.hole(number)] = prior.hole_sd**2
    sitting[unknowns.sitting, unknowns.sitting] = prior.session_sd**2 * np.eye(SITTING)
    mean[unknowns.sitting.stop - 1] = COLD * prior.session_sd
    return _Known(mean, named, nameless, cut, apart, sitting)


def _cut_in_turn(sizes: Sequence[float], sign: float, sd: float) -> tuple[Array, Array]:
    """Mean and covariance of the errors (mm) of one control that was cut to one size after another.

    Each cut is off by `sd`, but what an earlier one took too much stays gone: the error is the larger of two normals,
    its moments those of Clark 1961, Oper. Res. 9, 145, eq. 2 to 4. `sign` tells the direction of cutting.
    """
    mean, covariance = np.zeros(len(sizes)), sd**2 * np.eye(len(sizes))
    for i in range(1, len(sizes)):
        there = mean[i - 1] - abs(sizes[i] - sizes[i - 1])
        variance = covariance[i - 1, i - 1]
        a = math.sqrt(sd**2 + variance)
        if there < -6.0 * a or a == 0.0:
            continue
        alpha = -there / a
        past, density = float(ndtr(-alpha)), math.exp(-0.5 * alpha**2) / math.sqrt(2.0 * math.pi)
        mean[i] = there * past + a * density
        square = sd**2 * (1.0 - past) + (there**2 + variance) * past + there * a * density
        covariance[i, i] = max(square - mean[i] ** 2, 0.01 * sd**2)
        covariance[i, :i] = covariance[:i, i] = covariance[i - 1, :i] * past
    return sign * mean, covariance


def update(
    prior: Prior,
    unknowns: Unknowns,
    readings: Sequence[Reading],
    compare: Callable[[Array], Linear],
    widths: Sequence[Width] = WIDTHS,
    wrong: float = WRONG,
) -> Posterior:
    """The belief after `readings`, all at once: `compare` linearises them near given (window, bore, holes); `wrong` is
    the share of readings that are off for a reason of their own."""
    known = prior_of(prior, unknowns)
    found = compare(prior.mean[:SHAPE])
    weigh = _Weighing(prior, known, found, widths, wrong)
    for _ in range(ITERATIONS):
        again = compare(np.clip(weigh.mean[:SHAPE], -_FARTHEST, _FARTHEST))
        if np.array_equal(again.shape, found.shape):
            break
        found = again
        weigh = _Weighing(prior, known, found, widths, wrong)
    own = _agreed(unknowns, readings, weigh)
    if own:
        known = prior_of(prior, unknowns, own)
        found = compare(np.clip(weigh.mean[:SHAPE], -_FARTHEST, _FARTHEST))
        weigh = _Weighing(prior, known, found, widths, wrong)
    mean = weigh.mean
    mean[:SHAPE] = np.clip(mean[:SHAPE], -_FARTHEST, _FARTHEST)
    return Posterior(
        prior,
        unknowns,
        mean,
        weigh.covariance,
        tuple(readings),
        weigh.good,
        weigh.good < STRANGE,
        weigh.residual,
        weigh.z,
        own,
        widths[weigh.best],
        found,
        weigh.parts,
    )


def _agreed(unknowns: Unknowns, readings: Sequence[Reading], weigh: _Weighing) -> frozenset[str]:
    """Notes of which several readings agree with one another, and not with everything else."""
    found = set()
    for fingering in unknowns.notes:
        off = [weigh.residual[i] for i, r in enumerate(readings) if r.fingering == fingering and weigh.good[i] < 0.5]
        for one in off:
            alike = [other for other in off if abs(other - one) < 3.0 * weigh.prior.reading_sd]
            if len(alike) >= AGREE and abs(one) < _FAR:
                found.add(fingering)
    return frozenset(found)


class _Weighing:
    """Readings, linear around one guess, against every width; readings that others contradict weigh less."""

    def __init__(self, prior: Prior, known: _Known, found: Linear, widths: Sequence[Width], share_wrong: float) -> None:
        self.prior, self.known, self.found, self.widths = prior, known, found, widths
        self.share_wrong = share_wrong
        H = self.rows = found.rows
        r = len(H)
        # The model at the guess is exact; from there to the prior's mean it is taken as linear.
        self.y = found.cents + H[:, :SHAPE] @ found.shape - H @ known.mean - COLD * prior.session_sd * found.cold
        self.good, self.residual, self.z = np.ones(r), np.zeros(r), np.zeros(r)
        parts = (known.named, known.nameless, known.cut, known.own, known.sitting)
        named, nameless, cut, apart, sitting = (H @ part @ H.T for part in parts)
        sitting = sitting + prior.session_sd**2 * found.earlier.sum(axis=-1)
        self._plain = [
            named * width.corrections**2
            + nameless * width.nameless**2
            + cut * width.cuts**2
            + sitting * width.sitting**2
            + apart
            for width in widths
        ]
        self._stated = named + nameless + cut + apart + sitting
        self.weights = np.array([width.odds for width in widths])
        if r:
            self._weigh_readings()
        self.weights = self.weights / self.weights.sum()
        self.best = int(np.argmax(self.weights)) if r else 0
        self._mix()

    def _weigh_readings(self) -> None:
        odds = np.log([width.odds for width in self.widths])
        noise = (self.prior.reading_sd * np.array([width.noise for width in self.widths])) ** 2
        plain, r = np.array(self._plain), len(self.y)
        chance = np.exp(odds - odds.max())
        # However many agree: what is that far off is of another fingering or register, or of another flute.
        stated = self._stated + noise[0] * np.eye(r)
        beyond = np.abs(self.y) > np.maximum(_FAR, _BEYOND * np.sqrt(np.diag(stated)))
        self.good[beyond] = _LEAST
        for turn in range(ROUNDS):
            own = noise[:, None] / self.good[None]
            K = plain.copy()
            K[:, range(r), range(r)] += own
            inverse = np.linalg.inv(K)
            fit = inverse @ self.y
            half = np.sum(np.log(np.diagonal(np.linalg.cholesky(K), axis1=1, axis2=2)), axis=1)
            evidence = odds - 0.5 * fit @ self.y - half
            precision = np.diagonal(inverse, axis1=1, axis2=2)
            off = fit / precision
            # Of a reading weighed in full, whatever it weighs now.
            variance = np.maximum(1.0 / precision - own, 0.0) + noise[:, None]
            if turn:
                chance = np.exp(evidence - evidence.max())
            chance = chance / chance.sum()
            self.residual, self.z = chance @ off, chance @ (np.abs(off) / np.sqrt(variance))
            if turn < ROUNDS - 1:
                wide = variance + _WIDELY**2
                right = (1.0 - self.share_wrong) * np.exp(-0.5 * off**2 / variance) / np.sqrt(variance)
                wrong = self.share_wrong * (np.exp(-0.5 * off**2 / wide) / np.sqrt(wide) + 1e-4)
                good = np.clip((chance @ right) / (chance @ (right + wrong)), _LEAST, 1.0)
                self.good = np.where(beyond, _LEAST, good)
        self.weights = chance

    def _mix(self) -> None:
        solved = []
        for weight, width, K in zip(self.weights, self.widths, self._plain, strict=True):
            if weight < _HARDLY:
                continue
            if not len(self.y):  # then the spreads are those that are stated
                solved = [(1.0, self.known.mean, self.known.at(Width(1.0, 1.0, 1.0, 1.0)))]
                break
            covariance = self.known.at(width)
            noise = (self.prior.reading_sd * width.noise) ** 2 / self.good
            across = covariance @ self.rows.T
            factor = cho_factor(K + np.diag(noise), lower=True)
            gain = cho_solve(factor, across.T).T
            mean = self.known.mean + gain @ self.y
            covariance = covariance - gain @ across.T
            solved.append((float(weight), mean, 0.5 * (covariance + covariance.T)))
        total = sum(weight for weight, _, _ in solved)
        self.mean = np.asarray(sum(weight / total * mean for weight, mean, _ in solved))
        self.parts = tuple(Part(weight / total, mean - self.mean, C) for weight, mean, C in solved)
        self.covariance = np.asarray(sum(w * (C + np.outer(off, off)) for w, off, C in self.parts))
