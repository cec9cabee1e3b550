"""Time of a design, beside scipy's least_squares with finite differences on the same model.

    python tests/load/design_speed.py [repeats]

Prints a table of processor time on one core. One evaluation is the characteristic function of one flute at one
fingering and mode; scipy's count is made of whole flutes solved by search, so times tell more than counts. scipy gets
the same goal, the same start and any diameter (it cannot choose drills); limits on spacing become bounds on
differences, the reach a penalty.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import contextlib
import statistics
import sys
import time

import numpy as np
from scipy.optimize import least_squares

from acoustics.designing import wishes
from acoustics.designing.design import DesignRequest, design
from acoustics.designing.fitting import LIMIT_WEIGHT, discomfort, fit
from acoustics.designing.layout import PitchModel
from acoustics.designing.limits import bounds, upper_hand
from acoustics.errors import CannotMeet
from acoustics.flute.instrument import Hole
from acoustics.model.implicit import CENTS
from acoustics.model.resonance import resonances

KEYS = ("C4", "F#4", "A4", "C5", "E5", "C6")
MOST = 30
"""Steps that scipy is given; it has not arrived by then (see its discomfort), with 200 neither."""


def problem(request: DesignRequest):
    targets = request.targets()
    start = wishes.start(request, targets)
    template = request.blank(float(start[0])).with_holes([Hole(1.0, 1.0)] * request.holes)
    model = PitchModel(template, [t.fingering for t in targets], request.air)
    return model, wishes.goal(request, targets), bounds(request.limits, request.holes), start


def by_scipy(request: DesignRequest):
    """The continuous optimum by scipy's trust region with two-point differences; (layout, solves, seconds)."""
    model, goal, _, start = problem(request)
    n = request.holes
    limits = request.limits
    solves = 0

    def layout_of(v):  # v: window to hole 1, spacings, last hole to foot, diameters
        x = np.cumsum(v[:n])
        return np.concatenate([[x[-1] + v[n]], x, v[n + 1 :]])

    def residuals(v):
        nonlocal solves
        solves += 1
        layout = layout_of(v)
        found = resonances(model.geometry(layout), request.air, model.fingerings, 2)
        harmonics = goal.frequencies[:, None] * np.array([1, 2])
        cents = CENTS * np.log(found.frequency[0] / harmonics)
        used = (goal.weights > 0) & np.isfinite(cents)
        reach = max(0.0, layout[n] - layout[1] - limits.reach)
        return np.concatenate(
            [goal.weights[used] * cents[used], goal.rows @ layout - goal.wanted, [LIMIT_WEIGHT * reach]]
        )

    low = [limits.to_window, *[limits.spacing[0]] * (n - 1), limits.to_foot, *[limits.diameter[0]] * n]
    high = [1000.0, *[limits.spacing[1]] * (n - 1), 1000.0, *[limits.diameter[1]] * n]
    low[upper_hand(n)], high[upper_hand(n)] = limits.hands_gap
    v0 = np.concatenate([[start[1]], np.diff(start[1 : n + 1]), [start[0] - start[n]], start[n + 1 :]])
    v0 = np.clip(v0, np.array(low) + 1e-3, np.array(high) - 1e-3)
    begun = time.process_time()
    found = least_squares(residuals, v0, bounds=(low, high), x_scale="jac", xtol=1e-10, ftol=1e-10, max_nfev=MOST)
    return layout_of(found.x), solves, time.process_time() - begun


def of_scale(scale: str, holes: int, repeats: int) -> float:
    """Median time in s of a whole design in a scale, over all keys."""
    times = []
    for key in KEYS:
        request = DesignRequest.from_json({"key": key, "scale": scale, "holes": holes})
        for _ in range(repeats):
            begun = time.process_time()
            with contextlib.suppress(CannotMeet):
                design(request)
            times.append(time.process_time() - begun)
    return statistics.median(times)


def main(repeats: int) -> None:
    design(DesignRequest.from_json({"key": "G4"}))  # imports and caches
    print(
        f"{'key':4} {'design':>10} {'optimum':>10} {'discomfort':>11}   "
        f"{'scipy':>10} {'flutes solved':>13} {'discomfort':>11} {'ratio':>6}"
    )
    ratios, times = [], []
    for key in KEYS:
        request = DesignRequest.from_json({"key": key})
        whole, inner = [], []
        for _ in range(repeats):
            begun = time.process_time()
            design(request)
            whole.append(time.process_time() - begun)
            model, goal, limits, start = problem(request)
            begun = time.process_time()
            found = fit(model, goal, limits, start)
            inner.append(time.process_time() - begun)
        ours = discomfort(goal, limits, found.layout, goal.cents(found.w))
        layout, solves, seconds = by_scipy(request)
        theirs = discomfort(goal, limits, layout, goal.cents(model.search(layout)))
        ratio = seconds / statistics.median(inner)
        ratios.append(ratio)
        times += whole
        print(
            f"{key:4} {1e3 * statistics.median(whole):7.0f} ms {1e3 * statistics.median(inner):7.0f} ms "
            f"{ours:11.3f}   {1e3 * seconds:7.0f} ms {solves:13d} {theirs:11.3f} {ratio:5.0f}x"
        )
    print(
        f"median design {1e3 * statistics.median(times):.0f} ms; scipy takes {statistics.median(ratios):.0f} times as "
        "long for the optimum alone (median)"
    )
    for scale in ("minor pentatonic", "major", "chromatic"):
        five, six = (1e3 * of_scale(scale, holes, repeats) for holes in (5, 6))
        print(f"{scale:17} five holes {five:4.0f} ms, six holes {six:4.0f} ms (median of whole designs)")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 7)
