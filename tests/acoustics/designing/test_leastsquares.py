import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from scipy.optimize import lsq_linear, minimize

from acoustics.designing.leastsquares import InfeasibleError, constrained_least_squares


def box(low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    eye = np.eye(len(low))
    return np.vstack([eye, -eye]), np.concatenate([low, -high])


@given(st.integers(0, 2**32 - 1), st.integers(1, 9))
@settings(max_examples=60, deadline=None)
def test_bounds_agree_with_scipy(seed: int, n: int) -> None:
    rng = np.random.default_rng(seed)
    A, b = rng.normal(size=(n + 4, n)), rng.normal(size=n + 4)
    low = rng.uniform(-1, 0, n)
    high = low + rng.uniform(0.1, 1, n)
    ours = constrained_least_squares(A, b, *box(low, high))
    theirs = lsq_linear(A, b, (low, high), method="bvls", tol=1e-14)
    assert np.linalg.norm(A @ ours - b) == pytest.approx(np.sqrt(2 * theirs.cost), abs=1e-9)
    assert np.all(ours >= low - 1e-9)
    assert np.all(ours <= high + 1e-9)


def test_a_sum_agrees_with_a_general_method() -> None:
    rng = np.random.default_rng(7)
    A, b = rng.normal(size=(9, 5)), rng.normal(size=9)
    G, h = np.vstack([np.eye(5), -np.ones((1, 5))]), np.concatenate([np.full(5, 0.05), [-1.0]])
    ours = constrained_least_squares(A, b, G, h)
    theirs = minimize(
        lambda x: float(np.sum((A @ x - b) ** 2)),
        np.full(5, 0.1),
        method="SLSQP",
        constraints={"type": "ineq", "fun": lambda x: G @ x - h},
        options={"ftol": 1e-14, "maxiter": 500},
    )
    assert ours == pytest.approx(theirs.x, abs=1e-5)


def test_without_inequalities_it_is_plain_least_squares() -> None:
    rng = np.random.default_rng(3)
    A, b = rng.normal(size=(8, 3)), rng.normal(size=8)
    ours = constrained_least_squares(A, b, np.empty((0, 3)), np.empty(0))
    assert ours == pytest.approx(np.linalg.lstsq(A, b)[0], abs=1e-12)


def test_contradictions_are_told() -> None:
    G, h = np.array([[1.0, 0.0], [-1.0, 0.0]]), np.array([2.0, -1.0])
    with pytest.raises(InfeasibleError):
        constrained_least_squares(np.eye(2), np.zeros(2), G, h)


def test_badly_scaled_rows_do_no_harm() -> None:
    A = np.diag([1e4, 1e-2, 1.0])
    x = constrained_least_squares(A, A @ np.array([3.0, -5.0, 2.0]), *box(np.full(3, -1.0), np.full(3, 1.0)))
    assert x == pytest.approx([1.0, -1.0, 1.0], abs=1e-8)
