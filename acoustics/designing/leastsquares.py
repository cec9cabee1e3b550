"""Linear least squares under linear inequalities, the inner step of design and of tuning layouts."""

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular
from scipy.optimize import nnls

Array = NDArray[np.float64]


class InfeasibleError(ArithmeticError):
    """The inequalities contradict one another."""


def constrained_least_squares(A: Array, b: Array, G: Array, h: Array) -> Array:
    """The x that minimises |A x - b| subject to G x >= h.

    A is (m, n) of full column rank with m >= n, G is (k, n); returns (n,). The problem is turned into one of
    least distance by a QR factorisation and that into non-negative least squares (Lawson and Hanson 1974,
    Solving Least Squares Problems, chapter 23, problems LSI and LDP).

    Raises InfeasibleError where no x meets every inequality.
    """
    q, r = np.linalg.qr(A)
    c = q.T @ b
    n = r.shape[0]
    if not len(h):
        return np.asarray(solve_triangular(r, c), dtype=float)
    # Rows of unit length keep the test for contradiction below free of scale.
    inverse_applied = solve_triangular(r, G.T, trans="T").T
    length = np.linalg.norm(inverse_applied, axis=1)
    length[length == 0.0] = 1.0
    rows = inverse_applied / length[:, None]
    right = (h - inverse_applied @ c) / length
    scale = max(1.0, float(np.max(np.abs(right))))
    E = np.vstack([rows.T, right / scale])
    f = np.zeros(n + 1)
    f[n] = 1.0
    u, _ = nnls(E, f, maxiter=30 * E.shape[1])
    residual = E @ u - f
    if abs(residual[n]) < 1e-12:
        raise InfeasibleError
    z = -residual[:n] / residual[n] * scale
    found = np.asarray(solve_triangular(r, z + c), dtype=float)
    # Rounding hides a contradiction that is only just one: then what comes out meets nothing.
    if not np.all(G @ found - h >= -1e-6 * max(1.0, float(np.max(np.abs(h))))):
        raise InfeasibleError
    return found
