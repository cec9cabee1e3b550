"""Fit the window's constants to ``data/window_static.jsonl`` and print ``acoustics/model/window_fit.py``.

Every sixth case is held out (``tests/reference/test_window.py`` judges by those). First the constants of the
formula, then, by least squares with a small penalty, the polynomial that corrects its logarithm. Run from the root
of the tree.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

from acoustics.model.window import cotangent, formula, terms

DATA = Path(__file__).parents[1] / "data" / "window_static.jsonl"
HELD_OUT = 6
PENALTY = 0.05


def load() -> tuple[tuple[np.ndarray, ...], np.ndarray, np.ndarray, np.ndarray]:
    """Return sizes for ``formula``, inertances, whether a case came from two meshes, and whether it is held out."""
    rows = [json.loads(line) for line in DATA.read_text().splitlines()]
    column = {
        name: np.array([row[name] for row in rows]) for name in ("length", "width", "wall", "stub", "angle", "flat")
    }
    sizes = (
        *(column[name] for name in ("length", "width", "wall", "stub")),
        cotangent(column["angle"]),
        column["flat"],
    )
    held = np.arange(len(rows)) % HELD_OUT == 0
    return sizes, np.array([row["inertance"] for row in rows]), np.array([row["mesh"] == "two" for row in rows]), held


def main() -> None:
    """Fit and print."""
    sizes, value, good, held = load()
    used = ~held
    weight = np.where(good, 1.0, 0.6)
    start = np.zeros(28)
    start[[0, 1, 5]] = 0.7, 2.0, 4.5

    def residual(p: np.ndarray) -> np.ndarray:
        off = formula(p, *sizes)[used] / value[used] - 1.0
        return np.concatenate([300.0 * weight[used] * off, 0.05 * (p - start)])

    p = least_squares(residual, start, loss="soft_l1", max_nfev=4000).x.round(4)
    off = np.log(value / formula(p, *sizes))
    use = used & (np.abs(off) < 0.03)
    X = terms(*sizes)
    A = X[use] * weight[use, None]
    q = np.linalg.solve(A.T @ A + PENALTY * np.eye(X.shape[1]), A.T @ (weight[use] * off[use])).round(5)
    left = off - X @ q
    for name, rows in (("fitted", used), ("held out", held)):
        print(
            f"{name}: rms {np.sqrt(np.mean(left[rows] ** 2)):.4f}, most {np.abs(left[rows]).max():.4f}", file=sys.stderr
        )
    print('"""Constants of the window, printed by ``tests/reference/fem/fit_window.py``. Do not edit by hand."""\n')
    print(f"FORMULA = {tuple(p.tolist())}\n")
    print(f"POLYNOMIAL = {tuple(q.tolist())}")


if __name__ == "__main__":
    main()
