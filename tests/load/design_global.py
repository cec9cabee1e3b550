"""Our optimum against scipy's differential evolution on the same model, for a dozen keys.

    python tests/load/design_global.py [generations] [key ...]

Evolution looks over all diameters that the limits allow. For each choice of diameters foot and positions are brought
in tune by Newton's method, in a batch; what is left to make least is the discomfort of a design: octaves and comfort
by their weights, and mm beyond the limits. Prints the discomfort of both, the rms deviation of the first register of
both, and how much worse ours is. Ours starts from its own fixed start and knows nothing of evolution's.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import sys
import time
import warnings

import numpy as np
from scipy.optimize import differential_evolution

from acoustics.designing import wishes
from acoustics.designing.design import DesignRequest
from acoustics.designing.fitting import LIMIT_WEIGHT, MARGIN, TUNING_WEIGHT, discomfort, fit
from acoustics.designing.layout import PitchModel
from acoustics.designing.limits import bounds, matrix
from acoustics.flute.instrument import Hole
from acoustics.model.implicit import CENTS
from acoustics.model.network import Network
from acoustics.model.resonance import open_nodes

KEYS = ("C4", "D4", "E4", "F#4", "G4", "A4", "B4", "C5", "D5", "E5", "G5", "C6")
STEP = 1e-4
W_STEP = 1e-6
NEWTON = 5
LOST = 1e6
"""Discomfort of diameters for which no foot and positions are in tune."""


class Problem:
    """One key: our optimum, and the discomfort of any diameters with foot and positions tuned."""

    def __init__(self, key: str) -> None:
        self.request = DesignRequest.from_json({"key": key})
        targets = self.request.targets()
        start = wishes.start(self.request, targets)
        template = self.request.blank(float(start[0])).with_holes([Hole(1.0, 1.0)] * self.request.holes)
        self.model = PitchModel(template, [t.fingering for t in targets], self.request.air)
        self.goal = wishes.goal(self.request, targets)
        self.limits = bounds(self.request.limits, self.request.holes)
        self.G, self.h = matrix(self.limits)
        self.gives = np.array([b.gives for b in self.limits])
        begun = time.perf_counter()
        self.ours = fit(self.model, self.goal, self.limits, start)
        self.seconds = time.perf_counter() - begun
        self.is_open = open_nodes(self.model.fingerings, self.model.geometry(self.ours.layout))

    def tuned(self, diameters: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Layouts (g, 1 + 2 n) in tune with diameters (g, n), and their resonances (g, notes, 2); NaN where lost."""
        g, n = diameters.shape
        best, gradient = self.ours.layout, self.ours.gradient
        old = best[n + 1 :]
        moved = np.zeros((g, 2 * n + 1))
        moved[:, n + 1 :] = old * (diameters - old) / diameters
        moved[:, : n + 1] = np.linalg.solve(gradient[:, 0, : n + 1], -(gradient[:, 0, n + 1 :] @ moved[:, n + 1 :].T)).T
        w = self.ours.w * np.exp(np.einsum("fmv,gv->gfm", gradient, moved) / CENTS)
        layouts = best + moved
        layouts[:, n + 1 :] = diameters
        shifts = np.zeros((n + 3, 2 * n + 1))
        shifts[2:, : n + 1] = STEP * np.eye(n + 1)
        wanted = 2.0 * np.pi * self.goal.frequencies
        for _ in range(NEWTON):
            rows = (layouts[:, None] + shifts).reshape(-1, 2 * n + 1)
            at = np.repeat(w[:, None], n + 3, axis=1)
            at[:, 1] *= 1.0 + W_STEP
            network = Network(self.model.geometry(rows), self.request.air)
            F = network.characteristic(at.reshape(-1, *w.shape[1:]), self.is_open).reshape(g, n + 3, *w.shape[1:])
            slope = (F[:, 1] - F[:, 0]) / (W_STEP * w)
            w = w - F[:, 0] / slope
            rates = CENTS * (-(F[:, 2:] - F[:, :1]) / (STEP * slope[:, None]) / w[:, None]).real
            cents = CENTS * np.log(w[..., 0].real / wanted)
            good = np.isfinite(rates).all(axis=(1, 2, 3)) & np.isfinite(cents).all(axis=1)
            step = np.zeros((g, n + 1))
            J = np.swapaxes(rates[good, :, :, 0], 1, 2)
            step[good] = np.linalg.solve(J, -cents[good][..., None])[..., 0]
            step = np.clip(step, -0.03 * best[0], 0.03 * best[0])
            layouts[:, : n + 1] += step
            w = w * np.exp(np.einsum("gvfm,gv->gfm", np.where(np.isfinite(rates), rates, 0.0), step) / CENTS)
        off = np.max(np.abs(cents), axis=1)
        w[~(off < 0.2)] = np.nan
        return layouts, w

    def discomfort(self, diameters: np.ndarray) -> np.ndarray:
        """Discomfort (g,) of diameters (g, n)."""
        layouts, w = self.tuned(diameters)
        cents = np.array([self.goal.cents(each) for each in w])
        octaves = np.sum((self.goal.weights[:, 1] * cents[..., 1]) ** 2, axis=1)
        comfort = np.sum((layouts @ self.goal.rows.T - self.goal.wanted) ** 2, axis=1)
        beyond = np.sum(np.maximum(0.0, self.h + MARGIN * self.gives - layouts @ self.G.T) ** 2, axis=1)
        return np.nan_to_num(octaves + comfort + LIMIT_WEIGHT**2 * beyond, nan=LOST)

    def evolve(self, generations: int) -> np.ndarray:
        """Diameters that differential evolution likes best."""
        found = differential_evolution(
            lambda d: self.discomfort(d.T),
            [self.request.limits.diameter] * self.request.holes,
            maxiter=generations,
            popsize=8,
            seed=1,
            polish=False,
            vectorized=True,
            updating="deferred",
            tol=0,
            init="sobol",
        )
        return found.x


def main(generations: int, keys: list[str]) -> None:
    print(f"{'key':4} {'ours':>9} {'evolution':>10} {'ours rms':>9} {'its rms':>8} {'ours worse by':>14}")
    for key in keys:
        problem = Problem(key)
        begun = time.perf_counter()
        diameters = problem.evolve(generations)
        seconds = time.perf_counter() - begun
        _, w = problem.tuned(diameters[None])
        own = problem.goal.weights[:, 0] >= TUNING_WEIGHT
        ours, theirs = problem.goal.cents(problem.ours.w), problem.goal.cents(w[0])
        rms = [float(np.sqrt(np.mean(c[own, 0] ** 2))) for c in (ours, theirs)]
        a = discomfort(problem.goal, problem.limits, problem.ours.layout, ours)
        b = float(problem.discomfort(diameters[None])[0])
        print(
            f"{key:4} {a:9.3f} {b:10.3f} {rms[0]:9.4f} {rms[1]:8.4f} {rms[0] - rms[1]:8.4f} cents   "
            f"{problem.seconds:.2f} s against {seconds:.0f} s",
            flush=True,
        )


if __name__ == "__main__":
    warnings.simplefilter("ignore", RuntimeWarning)  # evolution also tries what cannot be
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60, sys.argv[2:] or list(KEYS))
