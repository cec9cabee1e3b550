"""What a note that stands somewhere, known to some cents, will still cost in minutes of work: stop, listen, or cut.

Three things can be done with a note: leave it, hear it once more, or cut its own size and hear it. What is best is
found by dynamic programming (Bellman 1957) over where the note stands and how surely that is known: a cut adds its own
uncertainty, a reading takes some away, a note that ends out of tune costs as many minutes as the shop says. Large cuts
that go only part of the way, and an end to asking where a reading can't change what is done, both follow from that.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from acoustics.model.implicit import Array

_LOW, _HIGH, _STEP = -36.0, 24.0, 1.5
_M: Final = np.arange(_LOW, _HIGH + 0.1, _STEP)
"""Cents above the target where a note ends if nothing more is cut for it; further down it costs the same."""
_U: Final = np.array([0.2, 0.7, 1.2, 1.8, 2.6, 3.7, 5.3, 8.0, 13.0])
"""Cents to which that is unknown and could be known by listening."""
_STAGES: Final = 6
"""Steps that are looked ahead."""
MISSES: Final = 0.05
"""Share of itself by which a cut misses what was predicted of it, beside the error of the size: an estimate."""
SLIPS_AT: Final = np.array([0.1573, 0.4888, 0.8871, 1.5341])
"""Quantiles at 12.5, 37.5, 62.5 and 87.5 % of a normal cut off at none, in its spreads."""


_FORBIDDEN: Final = 8.0
"""How many times more than it costs a chance of ending sharp counts beyond the one that is allowed."""


@dataclass(frozen=True, slots=True)
class Work:
    """Minutes that work and its failures cost: one reading, one cut, a note that ends more than the tolerance flat, one
    that ends as much sharp (nothing lowers it), each twice over beyond twice the tolerance. Estimates; a shop may state
    its own."""

    reading: float = 0.5
    cut: float = 2.0
    flat: float = 25.0
    sharp: float = 50.0


@dataclass(frozen=True, slots=True)
class Hand:
    """How surely one size is cut and heard: cents of one `reading`; `floor` to which no listening in this sitting gets;
    cents by which a `cut` is off, the `smallest` that is made; the share of cuts that `slip` and by how many cents; the
    `risk` of ending sharp that a cut may take."""

    reading: float
    floor: float
    cut: float
    smallest: float
    slip: float
    slip_cents: float
    risk: float

    def rounded(self) -> Hand:
        """The same to what makes no difference, so that what is worked out for one serves the next."""
        return Hand(
            max(_near(self.reading, 0.5), 0.5),
            min(_near(self.floor, 1.0), 8.0),
            _near(self.cut, 0.5),
            max(_near(self.smallest, _STEP), _STEP),
            self.slip,
            _near(self.slip_cents, 6.0),
            self.risk,
        )


def _near(value: float, step: float) -> float:
    return step * round(value / step)


def loss(mean: Array, sd: Array, tolerance: float, work: Work) -> Array:
    """Minutes that a note costs which ends at `mean` give or take `sd` cents."""
    sd = np.maximum(sd, 0.05)
    total = 0.3 * (mean**2 + sd**2) / tolerance**2
    for times in (1.0, 2.0):
        total = total + work.sharp * ndtr((mean - times * tolerance) / sd)
        total = total + work.flat * ndtr((-times * tolerance - mean) / sd)
    under = (-tolerance - mean) / sd
    density = np.exp(-0.5 * under**2) / math.sqrt(2.0 * math.pi)
    return np.asarray(total + 0.02 * work.flat * sd * (under * ndtr(under) + density))


class Worth:
    """Minutes still to come from every standing of a note, by the best that can be done."""

    def __init__(self, tolerance: float, work: Work, hand: Hand) -> None:
        self.tolerance, self.work, self.hand = tolerance, work, hand
        stop = loss(_M[:, None], np.hypot(_U[None], hand.floor), tolerance, work)
        after = _U * hand.reading / np.hypot(_U, hand.reading)
        self._hearing = _spread_over(np.sqrt(_U**2 - after**2))
        self._after = _places(after)
        steps = np.arange(len(_M))
        self._cut_to = _places(np.sqrt(_U[:, None] ** 2 + hand.cut**2 + (MISSES * _STEP * steps[None]) ** 2))
        self._first = max(1, round(hand.smallest / _STEP))
        # A cut should end where its risk is allowed; how far it misses is counted as for one of ten cents.
        wide = np.hypot(np.sqrt(_U[None] ** 2 + hand.cut**2 + (10.0 * MISSES) ** 2), hand.floor)
        sharp = self._slipped(ndtr((_M[:, None] - tolerance) / wide))
        self._forbidden = _FORBIDDEN * work.sharp * np.maximum(sharp - hand.risk, 0.0)
        self.value = stop
        self.cuts, self.readings = np.zeros_like(stop), np.zeros_like(stop)
        for _ in range(_STAGES):
            heard = self._heard(self.value)
            heard_cuts, heard_readings = self._heard(self.cuts), self._heard(self.readings)
            self._after_cut = work.reading + self._slipped(heard)
            to, cut = self._best_cut(work.cut + self._after_cut)
            choices = np.stack([stop, work.reading + heard, cut])
            best = np.argmin(choices, axis=0)
            self.value = np.min(choices, axis=0)
            cuts, readings = self._at(self._slipped(heard_cuts), to), self._at(self._slipped(heard_readings), to)
            self.cuts = np.choose(best, [np.zeros_like(cuts), heard_cuts, 1.0 + cuts])
            self.readings = np.choose(best, [np.zeros_like(cuts), 1.0 + heard_readings, 1.0 + readings])

    def _heard(self, value: Array) -> Array:
        """Expected value (m, u) after one reading."""
        low, part = self._after
        narrow = value[:, low] * (1.0 - part) + value[:, low + 1] * part
        return np.asarray((self._hearing @ narrow.T[..., None])[..., 0].T)

    def _slipped(self, value: Array) -> Array:
        """Expected value (m, u) where a cut ends that was meant to end here."""
        hand = self.hand
        if not hand.slip or not hand.slip_cents:
            return value
        far = [np.minimum(_M + off * hand.slip_cents, _HIGH) for off in SLIPS_AT]
        gone = np.mean([_along(value, to) for to in far], axis=0)
        return np.asarray((1.0 - hand.slip) * value + hand.slip * gone)

    def _best_cut(self, value: Array) -> tuple[Array, Array]:
        """Where to cut to (m, u), as a number of steps, and what that costs."""
        low, part = self._cut_to  # (u, steps)
        m, steps = np.arange(len(_M))[:, None], np.arange(len(_M))[None]
        to = np.minimum(m + steps, len(_M) - 1)  # (m, steps)
        found = np.empty((len(_M), len(_U)))
        where = np.empty((len(_M), len(_U)), dtype=int)
        for u in range(len(_U)):
            cost = value[to, low[u][None]] * (1.0 - part[u]) + value[to, low[u][None] + 1] * part[u]
            cost = cost + self._forbidden[to, u]
            cost[(steps < self._first) | (m + steps >= len(_M))] = np.inf
            where[:, u] = np.argmin(cost, axis=1)
            found[:, u] = np.minimum(np.min(cost, axis=1), 1e6)
        return where, found

    def _at(self, value: Array, steps: Array) -> Array:
        low, part = self._cut_to
        m, u = np.arange(len(_M))[:, None], np.arange(len(_U))[None]
        to = np.minimum(m + steps, len(_M) - 1)
        k, f = low[u, steps], part[u, steps]
        return np.asarray(value[to, k] * (1.0 - f) + value[to, k + 1] * f)

    def _reducible(self, sd: Array) -> Array:
        return np.sqrt(np.maximum(np.asarray(sd) ** 2 - self.hand.floor**2, 0.04))

    def stop(self, mean: Array, sd: Array) -> Array:
        """Minutes lost if nothing more is done."""
        return loss(np.asarray(mean), np.asarray(sd), self.tolerance, self.work)

    def best(self, mean: Array, sd: Array) -> Array:
        """Minutes still to come by the best that can be done."""
        return _look(self.value, mean, self._reducible(sd))

    def cut(self, mean: Array, sd: Array) -> Array:
        """Minutes still to come if a cut is made that should leave the note at `mean` give or take `sd`."""
        return self.work.cut + _look(self._after_cut, mean, self._reducible(sd))

    def left(self, mean: Array, sd: Array) -> tuple[Array, Array]:
        """Cuts and readings that are expected."""
        u = self._reducible(sd)
        return _look(self.cuts, mean, u), _look(self.readings, mean, u)


@lru_cache(maxsize=1000)
def worth(tolerance: float, work: Work, hand: Hand) -> Worth:
    """What a note is worth, kept."""
    return Worth(tolerance, work, hand)


def _places(u: Array) -> tuple[NDArray[np.intp], Array]:
    """The place on `_U` below each value, and how far toward the next."""
    low = np.clip(np.searchsorted(_U, u) - 1, 0, len(_U) - 2)
    return low, np.clip((np.asarray(u) - _U[low]) / (_U[low + 1] - _U[low]), 0.0, 1.0)


def _spread_over(sd: Array) -> Array:
    """For each `sd` a matrix (m, m) that takes expected values over a normal around each of `_M`."""
    edges = np.concatenate([[-np.inf], 0.5 * (_M[1:] + _M[:-1]), [np.inf]])
    off = (edges[None, :] - _M[:, None])[None] / np.maximum(sd, 1e-3)[:, None, None]
    found: Array = np.diff(ndtr(off), axis=-1)
    return found


def _along(value: Array, m: Array) -> Array:
    """Rows of `value` (m, u) at other `m`."""
    at = np.clip((m - _LOW) / _STEP, 0.0, len(_M) - 1.0)
    low = np.minimum(at.astype(int), len(_M) - 2)
    part = (at - low)[:, None]
    return np.asarray(value[low] * (1.0 - part) + value[low + 1] * part)


def _look(value: Array, mean: Array, u: Array) -> Array:
    """`value` (m, u) at any standing."""
    mean, u = np.broadcast_arrays(np.asarray(mean, float), np.asarray(u, float))
    at = np.clip((mean - _LOW) / _STEP, 0.0, len(_M) - 1.0)
    i = np.minimum(at.astype(int), len(_M) - 2)
    a = at - i
    k, b = _places(u)
    return np.asarray(
        value[i, k] * (1 - a) * (1 - b)
        + value[i + 1, k] * a * (1 - b)
        + value[i, k + 1] * (1 - a) * b
        + value[i + 1, k + 1] * a * b
    )
