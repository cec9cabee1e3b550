"""From the best sizes to the drills at hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from typing import Final

import numpy as np

from acoustics.designing.fitting import LIMIT_WEIGHT, MARGIN, TUNING_WEIGHT, Fit, Goal, discomfort, fit
from acoustics.designing.layout import Array, Complex, PitchModel
from acoustics.designing.leastsquares import InfeasibleError
from acoustics.designing.limits import Bound, matrix
from acoustics.model.implicit import CENTS

_TRIED: Final = 6
"""How many of the best choices of drills are solved in full before limits may give."""
_FEW: Final = 9
"""Iterations for a choice of drills: where positions alone can do it they settle in four or five."""
_NEAR: Final = 0.01
"""Share of the foot's distance that a hole may move before a choice is held to lie beyond the straight line."""
_CLOSE: Final = 0.5
"""Cents: a choice whose every note comes this close within the limits is taken."""


def finish(
    model: PitchModel, goal: Goal, bounds: Sequence[Bound], best: Fit, racks: Sequence[Sequence[float]]
) -> Array:
    """The layout to make: drills from a rack, or diameters to 0.01 mm where there is none; lengths to 0.01 mm."""
    found = snap(model, goal, bounds, best, racks) if racks else settle(model, goal, bounds, best)
    n = (len(found.layout) - 1) // 2
    return np.concatenate([np.round(found.layout[: n + 1], 2), found.layout[n + 1 :]])


def snap(model: PitchModel, goal: Goal, bounds: Sequence[Bound], best: Fit, racks: Sequence[Sequence[float]]) -> Fit:
    """The layout with diameters from a rack of drills (mm, ascending) that loses least against `best`.

    Every choice between the drill below and the drill above for each hole is judged by the linearised problem,
    foot and positions solved again for each, with limits as penalties. The best are then solved in full with
    every limit kept, until one is in tune. If no rack has one, the holes are taken from the last rack one after
    another, the nearest drill first, and all that is still free is solved again each time.
    """
    n = (len(best.layout) - 1) // 2
    firm = [replace(b, gives=False) for b in bounds]
    judged: list[tuple[Array, Complex]] = []
    for rack in racks:
        judged = _judge(model, goal, bounds, best, rack)
        for layout, w in judged[:_TRIED]:
            try:
                found = fit(model, goal, firm, layout, w, free=range(n + 1), most=_FEW)
            except InfeasibleError:
                continue
            if worst(goal, found.w) <= _CLOSE:
                return found
    layout, w = judged[0]
    together = fit(model, goal, bounds, layout, w, free=range(n + 1))
    one_by_one = _one_by_one(model, goal, bounds, best, racks[-1])
    return min(together, one_by_one, key=lambda f: discomfort(goal, bounds, f.layout, goal.cents(f.w)))


def settle(model: PitchModel, goal: Goal, bounds: Sequence[Bound], best: Fit) -> Fit:
    """The layout with diameters rounded to 0.01 mm and positions solved again, within the limits if possible."""
    n = (len(best.layout) - 1) // 2
    rounded = best.layout.copy()
    rounded[n + 1 :] = np.round(rounded[n + 1 :], 2)
    try:
        firm = [replace(b, gives=False) for b in bounds]
        found = fit(model, goal, firm, rounded, best.w, free=range(n + 1), most=_FEW)
        if worst(goal, found.w) <= _CLOSE:
            return found
    except InfeasibleError:
        pass
    return fit(model, goal, bounds, rounded, best.w, free=range(n + 1))


def _one_by_one(model: PitchModel, goal: Goal, bounds: Sequence[Bound], best: Fit, drills: Sequence[float]) -> Fit:
    """Hole by hole to a drill, each time the hole that is nearest to one, the better of its two neighbours."""
    n = (len(best.layout) - 1) // 2
    rack = np.array(drills)
    now = best
    kept: list[int] = []
    while len(kept) < n:
        away = {i: float(np.min(np.abs(rack - now.layout[n + 1 + i]))) for i in range(n) if i not in kept}
        hole = min(away, key=lambda i: (away[i], i))
        kept.append(hole)
        free = [i for i in range(2 * n + 1) if i <= n or i - n - 1 not in kept]
        tried = []
        for drill in _beside(now.layout[n + 1 + hole], drills):
            start = now.layout.copy()
            start[n + 1 + hole] = drill
            w = np.asarray(now.w * np.exp(now.gradient @ (start - now.layout) / CENTS))
            found = fit(model, goal, bounds, start, w, free=free)
            tried.append((discomfort(goal, bounds, found.layout, goal.cents(found.w)), drill, found))
        now = min(tried, key=lambda t: t[:2])[2]
    return now


def worst(goal: Goal, w: Complex) -> float:
    """The largest deviation in cents of a note that has a hole of its own."""
    own = goal.weights[:, 0] >= TUNING_WEIGHT
    return float(np.max(np.abs(goal.cents(w)[own, 0])))


def _judge(
    model: PitchModel, goal: Goal, bounds: Sequence[Bound], best: Fit, drills: Sequence[float]
) -> list[tuple[Array, Complex]]:
    """Layouts with their estimated resonances for each choice of drills, best first."""
    n = (len(best.layout) - 1) // 2
    choices = np.array(list(product(*(_beside(d, drills) for d in best.layout[n + 1 :]))))
    moved = np.zeros((len(choices), 2 * n + 1))
    cents = goal.cents(best.w)
    used = (goal.weights > 0.0) & np.isfinite(cents)
    weight = goal.weights[used]
    A = np.vstack([weight[:, None] * best.gradient[used], goal.rows])
    b = np.concatenate([-weight * cents[used], goal.wanted - goal.rows @ best.layout])
    # A hole's effect goes rather with the inverse of its diameter: that makes the straight line hold further.
    old = best.layout[n + 1 :]
    moved[:, n + 1 :] = old * (choices - old) / choices
    left = b - moved @ A.T
    moved[:, : n + 1] = left @ np.linalg.pinv(A[:, : n + 1]).T
    w = best.w * np.exp(np.einsum("fmv,cv->cfm", best.gradient, moved) / CENTS)
    unmet = np.sum((b - moved @ A.T) ** 2, axis=1)
    far = np.sum((moved[:, : n + 1] / (_NEAR * best.layout[0])) ** 2, axis=1)
    moved[:, n + 1 :] = choices - old
    G, h = matrix(bounds)
    layouts = best.layout + moved
    beyond = np.maximum(0.0, h + MARGIN - layouts @ G.T)
    cost = unmet + far + LIMIT_WEIGHT**2 * np.sum(beyond**2, axis=1)
    order = np.lexsort((*choices.T[::-1], cost))
    return [(layouts[i], w[i]) for i in order[:_TRIED]]


def _beside(diameter: float, drills: Sequence[float]) -> tuple[float, ...]:
    """The drills just below and above a diameter, or the only one there is."""
    below = [d for d in drills if d <= diameter + 1e-6]
    above = [d for d in drills if d >= diameter - 1e-6]
    return tuple(sorted({*below[-1:], *above[:1]}))
