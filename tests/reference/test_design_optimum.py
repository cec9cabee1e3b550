"""The optimum of a design against general-purpose optimisers (scipy) on the same model.

The first register weighs one unit a cent here, so that methods without our derivatives can find their way; the goal
and the limits are otherwise those of a design. The long comparison over a dozen keys is in tests/load/design_global.py.
"""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import differential_evolution, minimize

from acoustics.designing import wishes
from acoustics.designing.design import DesignRequest
from acoustics.designing.fitting import LIMIT_WEIGHT, MARGIN, TUNING_WEIGHT, Goal, discomfort, fit
from acoustics.designing.layout import PitchModel
from acoustics.designing.limits import bounds, matrix
from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Hole
from acoustics.model.implicit import CENTS
from acoustics.model.resonance import resonances

Array = np.ndarray[Any, np.dtype[np.float64]]


class Problem:
    def __init__(self, **document: Any) -> None:
        self.request = DesignRequest.from_json(document)
        targets = self.request.targets()
        start = wishes.start(self.request, targets)
        template = self.request.blank(float(start[0])).with_holes([Hole(1.0, 1.0)] * self.request.holes)
        self.model = PitchModel(template, [t.fingering for t in targets], self.request.air)
        goal = wishes.goal(self.request, targets)
        self.goal: Goal = replace(goal, weights=np.where(goal.weights >= TUNING_WEIGHT, 1.0, goal.weights))
        self.limits = bounds(self.request.limits, self.request.holes)
        self.G, self.h = matrix(self.limits)
        self.margin = np.array([MARGIN * b.gives for b in self.limits])
        self.ours = fit(self.model, self.goal, self.limits, start).layout

    def cents(self, layouts: Array) -> Array:
        """By the engine's search for resonances, not by the derivatives that the fit follows."""
        geometry: Geometry = self.model.geometry(layouts)
        with np.errstate(invalid="ignore"):  # an optimiser may try holes that run into one another
            found = resonances(geometry, self.request.air, self.model.fingerings, 2).frequency
        return np.asarray(CENTS * np.log(found / (self.goal.frequencies[:, None] * np.array([1, 2]))))

    def discomfort(self, layouts: Array) -> Array:
        """Discomfort (g,) of layouts (g, 1 + 2 n)."""
        cents = self.cents(layouts)
        tuning = np.sum((self.goal.weights * np.nan_to_num(cents, nan=1e3)) ** 2, axis=(1, 2))
        comfort = np.sum((layouts @ self.goal.rows.T - self.goal.wanted) ** 2, axis=1)
        beyond = np.sum(np.maximum(0.0, self.h + self.margin - layouts @ self.G.T) ** 2, axis=1)
        return np.asarray(tuning + comfort + LIMIT_WEIGHT**2 * beyond)


@pytest.mark.parametrize("document", [{"key": "A4"}, {"key": "C6", "holes": 5}])
def test_sequential_programming_finds_nothing_better(document: dict[str, Any]) -> None:
    problem = Problem(**document)
    ours = problem.discomfort(problem.ours[None])[0]

    def slope(layout: Array) -> Array:
        step = 1e-3 * np.eye(len(layout))
        values = problem.discomfort(np.concatenate([layout + step, layout - step]))
        return np.asarray((values[: len(layout)] - values[len(layout) :]) / 2e-3)

    found = minimize(
        lambda layout: problem.discomfort(layout[None])[0],
        problem.ours,
        jac=slope,
        method="SLSQP",
        constraints={
            "type": "ineq",
            "fun": lambda v: problem.G @ v - problem.h - problem.margin,
            "jac": lambda _: problem.G,
        },
        options={"maxiter": 25, "ftol": 1e-9},
    )
    assert ours <= problem.discomfort(found.x[None])[0] + 0.02
    apart = problem.cents(np.array([problem.ours, found.x]))[..., 0]
    assert np.sqrt(np.mean((apart[0] - apart[1]) ** 2)) < 0.2


def test_differential_evolution_finds_nothing_better() -> None:
    problem = Problem(key="A4", holes=5)
    n = problem.request.holes
    low = np.concatenate([[300.0, 90, 115, 155, 190, 215], np.full(n, problem.request.limits.diameter[0])])
    high = np.concatenate([[360.0, 150, 175, 225, 260, 290], np.full(n, problem.request.limits.diameter[1])])
    assert np.all((low < problem.ours) & (problem.ours < high))
    found = differential_evolution(
        lambda v: problem.discomfort(v.T),
        list(zip(low, high, strict=True)),
        maxiter=20,
        popsize=5,
        seed=1,
        polish=False,
        vectorized=True,
        updating="deferred",
    )
    ours = problem.discomfort(problem.ours[None])[0]
    assert ours <= found.fun + 1e-6
    assert ours == pytest.approx(
        discomfort(problem.goal, problem.limits, problem.ours, problem.cents(problem.ours[None])[0]), rel=1e-6
    )
