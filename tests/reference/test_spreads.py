"""The shop's spreads against the marginal likelihood maximised by a general-purpose optimiser.

A two-way nested random-effects model, as in Searle, Casella and McCulloch, Variance Components (1992), chapter 6:
y = flute around its family, families around the shop, the shop around its prior. All means are integrated out in closed
form (a normal with block covariance), and only the two variances are left for scipy.optimize.
"""

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import multivariate_normal

from acoustics.belief.corrections import Prior
from acoustics.learning.evidence import FOUR, Evidence
from acoustics.learning.levels import FAMILY_SHARE, FAMILY_WORTH, WORTH, levels

PRIOR = Prior()
AIR = 3
WIDE = float(PRIOR.covariance[AIR, AIR])


def flutes(air: np.ndarray, family: np.ndarray, variance: float) -> list[Evidence]:
    """Flutes that each tell only of the air, with a measurement of some variance, and of nothing else at all."""
    information = np.zeros((FOUR, FOUR))
    information[AIR, AIR] = 1.0 / variance
    return [
        Evidence(
            str(i), str(f), (), information, information @ (y * np.eye(FOUR)[AIR]), (), np.empty(0), np.empty((0, FOUR))
        )
        for i, (y, f) in enumerate(zip(air, family, strict=True))
    ]


def best_variances(air: np.ndarray, family: np.ndarray, variance: float) -> np.ndarray:
    """The variances from flute to flute and from family to family that are likeliest, with what is stated of them."""
    same = (family[:, None] == family[None, :]).astype(float)
    count, kinds = len(air), len(set(family))

    def worse(logs: np.ndarray) -> float:
        spread, between = np.exp(logs)
        covariance = (variance + spread) * np.eye(count) + between * same + WIDE
        stated = WORTH * (np.log(spread) + WIDE / spread)
        stated += FAMILY_WORTH * (np.log(between) + FAMILY_SHARE**2 * WIDE / between)
        return float(0.5 * stated - multivariate_normal(np.full(count, PRIOR.mean[AIR]), covariance).logpdf(air))

    assert kinds > 1
    return np.exp(minimize(worse, np.log([WIDE, FAMILY_SHARE**2 * WIDE]), method="Nelder-Mead", tol=1e-9).x)


@pytest.mark.parametrize(("sd", "variance"), [(4.0, 1.0), (4.0, 100.0), (16.0, 9.0), (0.5, 1e4)])
def test_spreads_are_those_that_the_readings_make_likeliest(sd: float, variance: float) -> None:
    rng = np.random.default_rng(5)
    family = np.arange(30) % 5
    air = 3.0 + 6.0 * rng.standard_normal(5)[family] + np.sqrt(sd**2 + variance) * rng.standard_normal(30)
    found = levels(flutes(air, family, variance), PRIOR)
    best = best_variances(air, family, variance)
    assert [found.spread[AIR, AIR], found.between[AIR, AIR]] == pytest.approx(best, rel=0.02)


def test_what_no_flute_tells_of_stays_as_stated() -> None:
    rng = np.random.default_rng(6)
    found = levels(flutes(5.0 * rng.standard_normal(40), np.arange(40) % 8, 4.0), PRIOR)
    for name in (0, 1, 2):
        assert found.spread[name, name] == pytest.approx(PRIOR.covariance[name, name], rel=1e-3)
        assert found.between[name, name] == pytest.approx(FAMILY_SHARE**2 * PRIOR.covariance[name, name], rel=1e-3)
