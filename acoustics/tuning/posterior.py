"""The state of belief about one flute and its update by readings.

Everything uncertain is normal before the readings; a reading is the corrected model plus normal noise. The model bends
only a little within that uncertainty, so that Gauss-Newton steps, each linear in closed form, settle in two or three
(Bell and Cathey 1993, IEEE Trans. Autom. Control 38, 294: the iterated Kalman update is Gauss-Newton on the
posterior). A reading that the others and the prior together contradict is set aside: its residual over its own
standard deviation, both without the reading itself, decides (studentised deletion; Baarda 1968's data snooping).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.special import ndtr

from acoustics.model.implicit import Array
from acoustics.tuning.corrections import LIMITS, NAMES, Prior
from acoustics.tuning.heard import Linear, Reading, Unknowns
from acoustics.tuning.sounding import SHAPE

STRANGE: Final = 4.0
"""Standard deviations from what everything else indicates at which a reading is set aside."""
WRONG: Final = 0.005
"""Share of readings that are of another fingering, another register or a bad breath: an estimate."""
_ANYWHERE: Final = 2400.0
"""Cents over which a wrong reading may lie anywhere."""
WIDTHS: Final = ((1.0, 1.0, 0.62), (2.0, 1.0, 0.3), (4.0, 1.0, 0.02), (1.0, 2.0, 0.04), (2.0, 2.0, 0.02))
"""Multiples of the prior's spread and of the readings' noise that are weighed against one another, and how likely each
pair is at first (an estimate): neither is known well. Where nothing has been read, the first is taken."""
_HARDLY: Final = 1e-5
"""Parts of the mixture that weigh less are left out."""
ITERATIONS: Final = 5
_SETTLED: Final = 2.0
"""Cents between the guess and the result of a step below which another step changes less than 0.02 cents."""

_FARTHEST: Final = np.array([LIMITS[name] for name in NAMES[:SHAPE]])
"""No correction is believed beyond this, however the readings contradict one another."""


@dataclass(frozen=True)
class Posterior:
    """Belief about one flute.

    `mean` and `covariance` are of all `unknowns`. Had reading i not been taken, the mean would be `mean + back[i]` and
    the covariance larger by the outer product of `wider[i]`; `doubt[i]` is the chance that it is a wrong one;
    `strange[i]` whether it was set aside; `residual` (cents) and `z` are of each reading against all others. `scale` is
    the multiple of the prior's spread, `noise` that of the stated noise, that the readings speak for most. `parts` are
    what the belief is mixed from: the weight of each, how far its mean lies from `mean`, and its covariance.
    """

    prior: Prior
    unknowns: Unknowns
    mean: Array
    covariance: Array
    readings: tuple[Reading, ...]
    strange: NDArray[np.bool_]
    residual: Array
    z: Array
    doubt: Array
    back: Array
    wider: Array
    scale: float
    noise: float
    linear: Linear
    parts: tuple[tuple[float, Array, Array], ...]

    @property
    def shape(self) -> Array:
        """Window, bore and holes."""
        return self.mean[:SHAPE]


def prior_of(prior: Prior, unknowns: Unknowns) -> tuple[Array, Array]:
    """Mean and covariance of all unknowns before any reading."""
    size = len(unknowns)
    mean, covariance = np.zeros(size), np.zeros((size, size))
    four = SHAPE + 1
    mean[:four] = prior.mean
    covariance[:four, :four] = prior.covariance
    for fingering in unknowns.notes:
        at = unknowns.note(fingering)
        mean[at] = prior.notes.get(fingering, 0.0)
        covariance[at, at] = prior.note_sd**2
    for control in {size.control for size in unknowns.sizes}:
        cut = [size for size in unknowns.sizes if size.control == control]
        cut.sort(key=lambda size: size.value, reverse=control == 0)
        places = np.array([unknowns.size(size) for size in cut])
        sign = -1.0 if control == 0 else 1.0
        mean[places], covariance[np.ix_(places, places)] = _cut_in_turn(
            [size.value for size in cut], sign, prior.cut_sd
        )
    return mean, covariance


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


@dataclass(frozen=True)
class _Solved:
    mean: Array
    covariance: Array
    strange: NDArray[np.bool_]
    residual: Array
    z: Array
    doubt: Array
    back: Array
    wider: Array
    evidence: float


def update(
    prior: Prior,
    unknowns: Unknowns,
    readings: Sequence[Reading],
    compare: Callable[[Array], Linear],
    start: Array | None = None,
    steps: int = ITERATIONS,
    widths: Sequence[tuple[float, float, float]] = WIDTHS,
) -> Posterior:
    """The belief after `readings`, all at once: their order does not matter.

    `compare` linearises the readings at given (window, bore, holes); `start` is a first guess of those; at
    most `steps` steps are taken; `widths` as in `WIDTHS`.
    """
    guess = np.array(prior.mean[:SHAPE] if start is None else start)
    found: Linear | None = None
    solved, scale, noise = None, 1.0, 1.0
    parts: tuple[tuple[float, Array, Array], ...] = ()
    for _ in range(steps):
        found = compare(guess)
        scale, noise, solved, parts = _weigh(prior, unknowns, found, guess, widths)
        move = solved.mean[:SHAPE] - guess
        guess = np.clip(solved.mean[:SHAPE], -_FARTHEST, _FARTHEST)
        if not len(readings) or np.max(np.abs(found.rows[:, :SHAPE] @ move)) < _SETTLED:
            break
    assert found is not None and solved is not None
    solved.mean[:SHAPE] = np.clip(solved.mean[:SHAPE], -_FARTHEST, _FARTHEST)
    return Posterior(
        prior,
        unknowns,
        solved.mean,
        solved.covariance,
        tuple(readings),
        solved.strange,
        solved.residual,
        solved.z,
        solved.doubt,
        solved.back,
        solved.wider,
        scale,
        noise,
        found,
        parts,
    )


def _weigh(
    prior: Prior, unknowns: Unknowns, found: Linear, guess: Array, widths: Sequence[tuple[float, float, float]]
) -> tuple[float, float, _Solved, tuple[tuple[float, Array, Array], ...]]:
    """Scales of prior and noise and the update: with each of `widths`, mixed by their odds times their evidence.

    Mean and covariance are those of the mixture; scales, and which readings are strange, those of the likeliest.
    """
    if not len(found.cents):
        plain = _solve(prior, prior_of(prior, unknowns), found, guess, 1.0, 1.0)
        return 1.0, 1.0, plain, ((1.0, np.zeros_like(plain.mean), plain.covariance),)
    known = prior_of(prior, unknowns)
    every = [_solve(prior, known, found, guess, scale, noise) for scale, noise, _ in widths]
    log = np.array([math.log(odds) + s.evidence for (_, _, odds), s in zip(widths, every, strict=True)])
    weights = np.exp(log - log.max())
    weights /= weights.sum()
    best = int(np.argmax(weights))
    mean = np.asarray(sum(w * solved.mean for w, solved in zip(weights, every, strict=True)))
    parts = tuple(
        (float(w), solved.mean - mean, solved.covariance)
        for w, solved in zip(weights, every, strict=True)
        if w > _HARDLY or solved is every[best]
    )
    covariance = np.zeros_like(every[best].covariance)
    for w, off, own in parts:
        covariance += w * (own + np.outer(off, off))
    scale, noise, _ = widths[best]
    return scale, noise, replace(every[best], mean=mean, covariance=covariance), parts


def _solve(
    prior: Prior, known: tuple[Array, Array], found: Linear, guess: Array, scale: float, noise_scale: float
) -> _Solved:
    mean, covariance = known[0], known[1].copy()
    covariance[: SHAPE + 1, : SHAPE + 1] *= scale**2
    H = found.rows
    # The model at the guess is exact; from there to the prior's mean it is taken as linear.
    y = found.cents + H[:, :SHAPE] @ guess - H @ mean
    noise = (noise_scale * prior.reading_sd) ** 2
    K = H @ covariance @ H.T + noise * np.eye(len(y))
    strange = np.zeros(len(y), dtype=bool)
    while True:
        residual, sd = _others(K, y, strange)
        z = np.abs(residual) / sd
        kept = np.where(strange, 0.0, z)
        if not len(y) or kept.max() <= STRANGE:
            break
        strange[int(np.argmax(kept))] = True
    good = np.flatnonzero(~strange)
    gain = np.zeros((len(mean), len(y)))
    evidence = float(len(y) - len(good)) * math.log(WRONG / _ANYWHERE)
    if len(good):
        factor = cho_factor(K[np.ix_(good, good)], lower=True)
        gain[:, good] = cho_solve(factor, H[good] @ covariance).T
        evidence += -0.5 * float(y[good] @ cho_solve(factor, y[good])) - float(np.sum(np.log(np.diag(factor[0]))))
        evidence += len(good) * (math.log(1.0 - WRONG) - 0.5 * math.log(2.0 * math.pi))
    new_mean = mean + gain @ y
    new_covariance = covariance - gain @ (H @ covariance)
    new_covariance = 0.5 * (new_covariance + new_covariance.T)
    wrong = WRONG / _ANYWHERE
    right = (1.0 - WRONG) * np.exp(-0.5 * np.minimum(z, 40.0) ** 2) / (sd * math.sqrt(2.0 * math.pi))
    doubt = np.where(strange, 0.0, wrong / (wrong + right))
    # Reading i taken back out: its gain with all others in is C h / sd_reading^2 (Sherman and Morrison 1950).
    pull = (new_covariance @ H.T).T
    pull[strange] = 0.0
    back = -pull * (residual / noise)[:, None]
    wider = pull * (sd / noise)[:, None]
    return _Solved(new_mean, new_covariance, strange, residual, z, doubt, back, wider, evidence)


def _others(K: Array, y: Array, strange: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Residual of each reading against the prior and all others that are not strange, and its standard deviation."""
    good = np.flatnonzero(~strange)
    residual, sd = y.copy(), np.sqrt(np.diag(K))
    if len(good):
        inverse = np.linalg.inv(K[np.ix_(good, good)])
        precision = np.diag(inverse)
        residual[good] = (inverse @ y[good]) / precision
        sd[good] = 1.0 / np.sqrt(precision)
        bad = np.flatnonzero(strange)
        if len(bad):
            cross = K[np.ix_(bad, good)] @ inverse
            residual[bad] = y[bad] - cross @ y[good]
            sd[bad] = np.sqrt(np.diag(K)[bad] - np.einsum("ij,ij->i", cross, K[np.ix_(bad, good)]))
    return residual, sd
