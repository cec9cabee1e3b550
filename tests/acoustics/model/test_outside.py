"""The coupling of openings through the air outside, against the exact integral for a long round body."""

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import jvp, yvp

from acoustics.model.outside import _CROSS, FLAT_AS_ROUND, along_body

DATA = Path(__file__).parents[2] / "reference" / "data"


def wave_sum(z: float) -> float:
    """4 pi d G of a source on a rigid cylinder, z radii along it: Laplace's equation, see along_body."""
    total = 0.0
    for m in range(200):

        def integrand(x: float, m: int = m) -> float:
            return float(np.exp(-x * z) / (x * x * (jvp(m, x) ** 2 + yvp(m, x) ** 2)))

        split = max(3.0 * m, 3.0)
        part = quad(integrand, 1e-9, split, limit=200)[0] + quad(integrand, split, split + 60.0 / z, limit=200)[0]
        total += part if m == 0 else 2 * part
        if m > 3 and part < 1e-6 * total:
            break
    return 4 * z * total / np.pi**2


@pytest.mark.filterwarnings("ignore")  # Y_m overflows near zero, where the integrand vanishes
@pytest.mark.parametrize("z", [0.8, 1.5, 3.0, 8.0, 25.0])
def test_along_body_is_the_exact_integral(z):
    assert along_body(np.array(z)) == pytest.approx(wave_sum(z), abs=1.5e-3)


def test_along_body_is_a_wall_near_by_and_free_air_far_off():
    """2 at a rigid wall, its image and itself; 1 in free air: Pierce, Acoustics (1981), section 5-1, from memory."""
    assert along_body(np.array(0.05)) == pytest.approx(2.0, abs=0.15)
    assert along_body(np.array(200.0)) == pytest.approx(1.0, abs=0.02)


def test_pairs_of_holes_follow_finite_elements():
    """Two holes in phase, data/hole_pair.jsonl: to 0.002 of the bore's unit, the scatter of the meshes."""
    off = []
    for line in (DATA / "hole_pair.jsonl").read_text().splitlines():
        row = json.loads(line)
        d, R = row["apart"], (1 + row["wall"]) * (FLAT_AS_ROUND if row["flat"] else 1.0)
        bore = sum(strength * np.exp(-kappa * d) for kappa, strength in _CROSS)
        off.append(along_body(np.array(d / R)) / (4 * np.pi * d) + bore - row["mutual"])
    assert np.median(np.abs(off)) < 0.002
    assert np.abs(off).max() < 0.007
