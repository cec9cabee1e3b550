"""Finding the layout: tuning first, then the limits, then comfort and the second register.

A Gauss-Newton iteration whose linear steps are least squares under linear inequalities. Resonances are carried
along as further unknowns: each iteration evaluates the characteristic function once, in one batch, improves them
by a Newton step and has their derivatives by the implicit function theorem. Deterministic: no random numbers, and
a fixed start.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from acoustics.designing.layout import Array, Complex, PitchModel
from acoustics.designing.leastsquares import InfeasibleError, constrained_least_squares
from acoustics.designing.limits import Bound, matrix
from acoustics.model.implicit import CENTS

TUNING_WEIGHT: Final = 1000.0
"""Units of discomfort for one cent in the first register: tuning comes first."""
LIMIT_WEIGHT: Final = 300.0
"""Units of discomfort for one mm beyond a limit that may give: limits come second."""
MARGIN: Final = 0.01
"""mm by which the search stays inside the limits, so that rounding does not break them."""
ITERATIONS: Final = 40
TOLERATED: Final = 4.0
"""Cents by which a step may leave the tuning: more means that it went beyond where the linear problem holds."""
SETTLED: Final = 2e-3
"""mm: the iteration ends when no size moves further."""


@dataclass(frozen=True, slots=True)
class Goal:
    """What a layout should achieve.

    `frequencies` (notes,) in Hz; `weights` (notes, modes) in units of discomfort per cent, where mode 2 is held
    against the octave; `rows @ layout = wanted` is what would be comfortable, in units of discomfort.
    """

    frequencies: Array
    weights: Array
    rows: Array
    wanted: Array

    def cents(self, w: Complex) -> Array:
        """How far resonances (notes, modes) lie above their targets, in cents."""
        harmonics = np.arange(1, w.shape[1] + 1)
        wanted = 2.0 * np.pi * self.frequencies[:, None] * harmonics
        return np.asarray(CENTS * np.log(w.real / wanted))


@dataclass(frozen=True, slots=True)
class Fit:
    """A layout with its resonances (rad/s) and the last linearisation (cents per mm)."""

    layout: Array
    w: Complex
    gradient: Array


def fit(
    model: PitchModel,
    goal: Goal,
    bounds: Sequence[Bound],
    start: Array,
    w: Complex | None = None,
    free: Iterable[int] | None = None,
    most: int = ITERATIONS,
) -> Fit:
    """The layout that best meets the goal from `start` (1 + 2 n,), in mm.

    `w` are the resonances near `start` if they are known. `free` are the entries of the layout that may change, all
    of them if it is None; `most` is the most iterations. Limits marked `gives` are broken only where the tuning
    cannot be reached otherwise; the others never.
    """
    size = len(start)
    n = (size - 1) // 2
    moving = np.arange(size) if free is None else np.array(sorted(free))
    changing = moving[moving > n]
    layout = start.copy()
    w = model.search(layout) if w is None else w
    room = np.where(np.arange(size) <= n, 0.08 * start[0], 1.5)
    low, high = _diameter_range(bounds, size)
    damping, before, share = 0.0, np.zeros(len(goal.rows)), 1.0
    last: tuple[Array, Complex, Array, float] | None = None
    gradient = np.empty(0)
    for _ in range(most):
        w, gradient = model.linearise(layout, w)
        astray = _astray(goal, bounds, layout, goal.cents(w))
        if last is not None and not astray <= max(last[3], TOLERATED):  # farther off, or notes got lost
            layout, w, _, astray = last
            w, gradient = model.linearise(layout, w)
            share *= 0.35
        else:
            last = layout, w, gradient, astray
            share = min(1.0, 2.0 * share)
        step, _ = linear_step(goal, bounds, layout, goal.cents(w), gradient, moving, share * room, damping)
        w = np.asarray(w * np.exp((gradient @ step) / CENTS))
        layout = layout + step
        if np.max(np.abs(step)) < SETTLED:
            break
        # What a hole adds to the bore goes rather with the inverse of its diameter: step along that.
        was = layout[changing] - step[changing]
        layout[changing] = np.clip(was / (1.0 - step[changing] / was), low[changing], high[changing])
        felt = goal.rows @ step
        damping, before = _curvature(damping, felt, before), felt
    return Fit(layout, model.follow(layout, w), gradient)


def _astray(goal: Goal, bounds: Sequence[Bound], layout: Array, cents: Array) -> float:
    """How far a layout is from being in tune within its limits, in cents, each by its weight in the fit."""
    off = cents[:, 0][goal.weights[:, 0] >= TUNING_WEIGHT]
    beyond = [max(0.0, b.least - float(b.row @ layout)) for b in bounds]
    return float(np.sqrt(np.sum(off**2) + (LIMIT_WEIGHT / TUNING_WEIGHT) ** 2 * np.sum(np.square(beyond))))


def _curvature(damping: float, step: Array, before: Array) -> float:
    """What the linear steps lack of the problem's curvature, as a multiple of that of comfort.

    Along a direction with true curvature 1 + h a step that assumes 1 + d leaves -(h - d)/(1 + d) of itself:
    two successive steps therefore tell h.
    """
    length = float(before @ before)
    if length == 0.0:
        return damping
    overshoot = min(max(-float(step @ before) / length, -0.8), 3.0)
    return min(max((1.0 + damping) * (1.0 + overshoot) - 1.0, 0.0), 30.0)


def discomfort(goal: Goal, bounds: Sequence[Bound], layout: Array, cents: Array) -> float:
    """What `fit` makes least: squares of weighted cents, of mm beyond the limits, and of wishes not met."""
    used = (goal.weights > 0.0) & np.isfinite(cents)
    beyond = sum(max(0.0, b.least + MARGIN - float(b.row @ layout)) ** 2 for b in bounds if b.gives)
    tuning = float(np.sum((goal.weights[used] * cents[used]) ** 2))
    comfort = float(np.sum((goal.rows @ layout - goal.wanted) ** 2))
    return tuning + LIMIT_WEIGHT**2 * beyond + comfort


def linear_step(
    goal: Goal,
    bounds: Sequence[Bound],
    layout: Array,
    cents: Array,
    gradient: Array,
    free: NDArray[np.intp],
    step_limit: Array | None = None,
    damping: float = 0.0,
) -> tuple[Array, float]:
    """The step (1 + 2 n,) in mm that is best for the linearised problem, and its discomfort.

    Only `free` entries move.
    """
    rows, least, giving = _inequalities(bounds, layout, free)
    slacks = int(giving.sum())
    variables = len(free) + slacks
    used = (goal.weights > 0.0) & np.isfinite(cents)
    weight = goal.weights[used]
    A = np.zeros((len(weight) + 2 * len(goal.rows) + slacks, variables))
    tuning, comfort, damped, beyond = np.split(A, np.cumsum([len(weight), len(goal.rows), len(goal.rows)]))
    tuning[:, : len(free)] = weight[:, None] * gradient[used][:, free]
    comfort[:, : len(free)] = goal.rows[:, free]
    damped[:, : len(free)] = np.sqrt(damping) * goal.rows[:, free]
    beyond[:, len(free) :] = LIMIT_WEIGHT * np.eye(slacks)
    unmet = goal.wanted - goal.rows @ layout
    b = np.concatenate([-weight * cents[used], unmet, np.zeros(len(goal.rows) + slacks)])
    give = np.zeros((len(rows), slacks))
    give[np.flatnonzero(giving), np.arange(slacks)] = 1.0
    G = [np.hstack([rows, give]), np.hstack([np.zeros((slacks, len(free))), np.eye(slacks)])]
    h = [least, np.zeros(slacks)]
    G0, h0 = np.vstack(G), np.concatenate(h)
    if step_limit is None:
        found = constrained_least_squares(A, b, G0, h0)
    else:
        box = np.hstack([np.eye(len(free)), np.zeros((len(free), slacks))])
        within = np.concatenate([-step_limit[free], -step_limit[free]])
        try:
            found = constrained_least_squares(A, b, np.vstack([G0, box, -box]), np.concatenate([h0, within]))
        except InfeasibleError:  # the way back within a firm limit is longer than the step allows
            found = constrained_least_squares(A, b, G0, h0)
    step = np.zeros(len(layout))
    step[free] = found[: len(free)]
    return step, float(np.sum((A @ found - b) ** 2))


def _diameter_range(bounds: Sequence[Bound], size: int) -> tuple[Array, Array]:
    """Least and largest sizes (1 + 2 n,) that the limits on single diameters allow, in mm."""
    n = (size - 1) // 2
    low, high = np.full(size, 0.1), np.full(size, np.inf)
    for b in bounds:
        (entries,) = np.nonzero(b.row)
        if len(entries) == 1 and entries[0] > n:
            entry = entries[0]
            if b.least_side:
                low[entry] = max(low[entry], b.limit)
            else:
                high[entry] = min(high[entry], b.limit)
    return low, high


def _inequalities(
    bounds: Sequence[Bound], layout: Array, free: NDArray[np.intp]
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Limits on the step: rows over the free entries, right sides, and which of them may give."""
    G, h = matrix(bounds) if bounds else (np.empty((0, len(layout))), np.empty(0))
    rows = G[:, free]
    moving = np.any(rows != 0.0, axis=1)
    giving = np.array([b.gives for b in bounds], dtype=bool)
    least = h + MARGIN * giving - G @ layout
    return rows[moving], least[moving], giving[moving]
