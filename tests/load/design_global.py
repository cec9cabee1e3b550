"""Our optimum against scipy's differential evolution on the same model, for a dozen keys.

    python tests/load/design_global.py [generations] [key ...]

Both make the same discomfort least: a unit for each cent off in the first register, the octaves and the comfort of
the holes by their weights, and mm beyond the limits. (In a design the first register weighs a thousand times as much;
a search without derivatives would not find its way along so narrow a valley.) Prints the discomfort of both, the rms
deviation of the first register, and the rms difference of the notes. Takes about a minute for each key.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import sys
import time
from dataclasses import replace

import numpy as np
from scipy.optimize import differential_evolution

from acoustics import wishes
from acoustics.design import DesignRequest
from acoustics.fitting import LIMIT_WEIGHT, MARGIN, TUNING_WEIGHT, fit
from acoustics.implicit import CENTS
from acoustics.instrument import Hole
from acoustics.layout import PitchModel
from acoustics.limits import bounds, matrix, upper_hand
from acoustics.resonance import resonances

KEYS = ("C4", "D4", "E4", "F#4", "G4", "A4", "B4", "C5", "D5", "E5", "G5", "C6")


class Problem:
    """One key with the first register weighed by one unit for a cent."""

    def __init__(self, key: str) -> None:
        self.request = DesignRequest.from_json({"key": key})
        targets = self.request.targets()
        self.start = wishes.start(self.request, targets)
        template = self.request.blank(float(self.start[0])).with_holes([Hole(1.0, 1.0)] * self.request.holes)
        self.model = PitchModel(template, [t.fingering for t in targets], self.request.air)
        goal = wishes.goal(self.request, targets)
        self.goal = replace(goal, weights=np.where(goal.weights >= TUNING_WEIGHT, 1.0, goal.weights))
        self.limits = bounds(self.request.limits, self.request.holes)
        self.G, self.h = matrix(self.limits)

    def ours(self) -> np.ndarray:
        return fit(self.model, self.goal, self.limits, self.start).layout

    def cents(self, layouts: np.ndarray) -> np.ndarray:
        """Cents off target (g, notes, 2)."""
        found = resonances(self.model.geometry(layouts), self.request.air, self.model.fingerings, 2)
        return CENTS * np.log(found.frequency / (self.goal.frequencies[:, None] * np.array([1, 2])))

    def discomfort(self, layouts: np.ndarray) -> np.ndarray:
        """Discomfort (g,) of layouts (g, 1 + 2 n)."""
        cents = np.nan_to_num(self.cents(layouts), nan=1e3)
        tuning = np.sum((self.goal.weights * cents) ** 2, axis=(1, 2))
        comfort = np.sum((layouts @ self.goal.rows.T - self.goal.wanted) ** 2, axis=1)
        beyond = np.sum(np.maximum(0.0, self.h + MARGIN - layouts @ self.G.T) ** 2, axis=1)
        return tuning + comfort + LIMIT_WEIGHT**2 * beyond

    def layouts(self, v: np.ndarray) -> np.ndarray:
        """Layouts (g, 1 + 2 n) from (13, g): window to hole 1, spacings, last hole to foot, diameters."""
        n = self.request.holes
        x = np.cumsum(v[:n], axis=0)
        return np.vstack([x[-1] + v[n], x, v[n + 1 :]]).T

    def box(self) -> list[tuple[float, float]]:
        """Where differential evolution looks: the limits, and half to twice the lengths we start from."""
        n, limits = self.request.holes, self.request.limits
        spacings = [limits.spacing] * (n - 1)
        spacings[upper_hand(n) - 1] = limits.hands_gap
        ends = [(0.5 * d, 2.0 * d) for d in (self.start[1], self.start[0] - self.start[n])]
        return [ends[0], *spacings, ends[1], *[limits.diameter] * n]

    def by_evolution(self, generations: int, seed: int = 1, popsize: int = 8) -> np.ndarray:
        found = differential_evolution(
            lambda v: self.discomfort(self.layouts(v)),
            self.box(),
            maxiter=generations,
            popsize=popsize,
            seed=seed,
            polish=False,
            vectorized=True,
            updating="deferred",
            tol=0,
            init="sobol",
        )
        return self.layouts(found.x[:, None])[0]


def main(generations: int, keys: list[str]) -> None:
    print(f"{'key':4} {'ours':>9} {'evolution':>10} {'ours rms':>10} {'its rms':>9} {'apart':>8}   cents; seconds")
    for key in keys:
        problem = Problem(key)
        begun = time.perf_counter()
        ours = problem.ours()
        between = time.perf_counter()
        theirs = problem.by_evolution(generations)
        ended = time.perf_counter()
        both = np.array([ours, theirs])
        cents = problem.cents(both)[..., 0]
        rms = np.sqrt(np.mean(cents**2, axis=1))
        apart = np.sqrt(np.mean((cents[0] - cents[1]) ** 2))
        a, b = problem.discomfort(both)
        print(
            f"{key:4} {a:9.3f} {b:10.3f} {rms[0]:10.3f} {rms[1]:9.3f} {apart:8.3f}   "
            f"{between - begun:.2f} s against {ended - between:.0f} s",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500, sys.argv[2:] or list(KEYS))
