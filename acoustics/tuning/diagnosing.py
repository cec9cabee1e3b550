"""Whether one fault explains the readings far better than what is believed: then it is looked for before any cut.

Each suspect moves the notes in a way of its own: a hole that is not where it is entered, a layout printed at another
scale, a leak. A suspect is weighed by how much more likely the readings become with it (the Bayes factor of one more
normal unknown: Kass and Raftery 1995, J. Am. Stat. Assoc. 90, 773, who call 150 to 1 very strong).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from acoustics.belief.posterior import AGREE, COLD, Posterior, Width, prior_of
from acoustics.belief.sounding import SHAPE, first_resonances, follow
from acoustics.flute.instrument import Hole, Instrument
from acoustics.model.implicit import CENTS, Array, Complex
from acoustics.tuning.aims import Job

Fault = Literal["places", "place", "leak"]
STRONG: Final = math.log(150.0)
"""How much more likely the readings must become, as a logarithm."""
_STATED: Final = Width(1.5, 1.0, 1.0, 1.0)
"""What is believed without a fault: corrections may be somewhat wider than stated."""
_PERCENT, _MM, _LEAK = 3.0, 4.0, 1.0
"""Spreads of the suspects: percent by which a layout is printed too large or small, mm by which a hole is misplaced,
leaks as wide as a hole of `_LEAK_WIDTH`."""
_LEAK_WIDTH: Final = 1.2
_STEP: Final = 0.5
"""mm by which a hole is moved to see what that does."""
LEAST: Final = 4
"""Readings, and half as many notes, before anything is suspected."""
BEYOND: Final = 100.0
"""Cents from the model at which all readings together speak against the sizes entered."""
_TWICE: Final = 2
"""A suspicion is said for so many readings: then it has been looked into, and the work goes on."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """A fault, the hole that it is about, its size in percent, mm, or widths of a small leak, and the note (index) that
    shows it best."""

    fault: Fault
    hole: int | None
    size: float
    note: int


def suspect(job: Job, belief: Posterior) -> Suspect | None:
    """What explains the readings far better; None where nothing does, or where it has been said already."""
    readings = belief.readings
    if len(readings) < LEAST or len({r.fingering for r in readings}) < LEAST // 2 or not _misfits(belief):
        return None
    effects = _effects(job, belief)
    found = _strongest(belief, effects, len(readings))
    if found is None:
        return None
    before = _strongest(belief, effects, len(readings) - _TWICE)
    if before is not None and before[0] is found[0]:
        return None
    effect, size = found
    note = int(np.argmax([abs(effect.cents.get(f, 0.0)) for f in job.fingerings]))
    return Suspect(effect.fault, effect.hole, size, note)


@dataclass(frozen=True, slots=True, eq=False)
class _Effect:
    fault: Fault
    hole: int | None
    spread: float
    cents: dict[str, float]


def _misfits(belief: Posterior) -> bool:
    """Whether the readings lie farther from what was expected than chance has it."""
    y, K = _against_prior(belief, len(belief.readings))
    square, r = float(y @ np.linalg.solve(K, y)), len(y)
    return square > r + math.sqrt(2.0 * r)


def _against_prior(belief: Posterior, count: int) -> tuple[Array, Array]:
    """The first readings against what was expected of them, and the covariance of that."""
    known, found = prior_of(belief.prior, belief.unknowns), belief.linear
    H = found.rows[:count]
    y = found.cents[:count] + H[:, :SHAPE] @ found.shape - H @ known.mean
    y = y - COLD * belief.prior.session_sd * found.cold[:count]
    # A fault makes good readings look bad: only what is beyond all belief is left out of the count.
    noise = belief.prior.reading_sd**2 * np.where(belief.good[:count] < 1e-3, 1e3, 1.5)
    shared = belief.prior.session_sd**2 * found.earlier[:count, :count].sum(axis=-1)
    return y, H @ known.at(_STATED) @ H.T + shared + np.diag(noise)


def far_off(belief: Posterior) -> float | None:
    """Cents by which the readings as a whole lie from what the sizes entered should give, where that is farther than
    any window or air explains: then the sizes are rather wrong than the flute."""
    if len(belief.readings) < AGREE:
        return None
    off = float(np.median(_against_prior(belief, len(belief.readings))[0]))
    return off if abs(off) > BEYOND else None


def _strongest(belief: Posterior, effects: Sequence[_Effect], count: int) -> tuple[_Effect, float] | None:
    if count < LEAST:
        return None
    y, K = _against_prior(belief, count)
    best: tuple[float, _Effect, float] | None = None
    for effect in effects:
        g = np.array([effect.cents.get(r.fingering, 0.0) for r in belief.readings[:count]]) * effect.spread
        Kg = np.linalg.solve(K, g)
        info, pull = float(g @ Kg), float(Kg @ y)
        gain = 0.5 * pull**2 / (1.0 + info) - 0.5 * math.log1p(info)
        size = effect.spread * pull / (1.0 + info)
        if effect.fault == "leak" and size < 0.0:
            continue
        if best is None or gain > best[0]:
            best = gain, effect, size
    if best is None or best[0] < STRONG:
        return None
    return best[1], best[2]


def _effects(job: Job, belief: Posterior) -> list[_Effect]:
    """What each fault does to each note, in cents for one unit of it, on the flute as it is."""
    flute, names = job.flute, list(job.fingerings)
    if not flute.holes:
        return []
    near = job.frequencies * 2.0 ** (-0.05)
    plain = first_resonances(flute, job.air, names, belief.shape, near)
    moved = [_moved(flute, i, _STEP) for i in range(len(flute.holes))]
    w = follow(moved, job.air, names, belief.shape, np.tile(plain, (len(moved), 1)))

    def change(found: Complex, unit: float) -> dict[str, float]:
        return dict(zip(names, (CENTS * np.log(found.real / plain.real) / unit).tolist(), strict=True))

    found = []
    total = dict.fromkeys(names, 0.0)
    for i, hole in enumerate(flute.holes):
        cents = change(w[i], _STEP)
        found.append(_Effect("place", i + 1, _MM, cents))
        total = {name: total[name] + 0.01 * hole.x * cents[name] for name in names}
    found.append(_Effect("places", None, _PERCENT, total))
    leak = Hole(0.5 * flute.holes[0].x, _LEAK_WIDTH)
    leaky = replace(flute, foot_holes=(leak, *flute.foot_holes))
    opened = first_resonances(leaky, job.air, names, belief.shape, plain.real / (2.0 * np.pi))
    found.append(_Effect("leak", None, _LEAK, change(opened, 1.0)))
    return found


def _moved(flute: Instrument, i: int, by: float) -> Instrument:
    holes = tuple(replace(hole, x=hole.x + by) if j == i else hole for j, hole in enumerate(flute.holes))
    return replace(flute, holes=holes)
