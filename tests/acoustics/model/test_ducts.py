"""Ducts: the fast Bessel ratio against scipy's, propagation against published constants, cones against slices."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.special import ive

from acoustics.model.air import Air
from acoustics.model.ducts import TwoPort, bessel_ratio, line, two_port

# Keefe 1984, J. Acoust. Soc. Am. 75, 58: air at 26.85 degrees C (from memory)
KEEFE = Air(speed_of_sound=347.23, density=1.1769, viscosity=1.846e-5, prandtl=0.8410**2, gamma=1.4017)


def cone(w, r1, r2, length, air, losses):
    duct = line(w, 0.5 * (r1 + r2), air, losses)
    return two_port(duct.gamma, duct.zc, length, r1, r2)


def test_bessel_ratio_agrees_with_scipy_wherever_ducts_use_it():
    radius = np.geomspace(0.01, 800.0, 4000)
    for turn in (0.0, 0.7, 0.25 * np.pi, 0.85):
        z = radius * np.exp(1j * turn)
        assert bessel_ratio(z) == pytest.approx(ive(1, z) / ive(0, z), rel=1e-11)


def test_bessel_ratio_near_zero_is_half_its_argument():
    z = np.array([1e-8 + 1e-8j])
    assert bessel_ratio(z) == pytest.approx(z / 2, rel=1e-12)


@pytest.mark.parametrize(
    ("radius", "frequency", "gamma", "zc"),
    [
        # Zwikker and Kosten's formula evaluated independently with scipy's Bessel functions
        (9.5e-3, 440.0, 0.066503 + 8.027831j, 1.00293 - 0.00300j),
        (9.5e-3, 220.0, 0.047185 + 4.027573j, 1.00414 - 0.00429j),
        (6.0e-3, 440.0, 0.105802 + 8.066298j, 1.00464 - 0.00482j),
        (1.5e-3, 440.0, 0.440175 + 8.378842j, 1.01850 - 0.02148j),
        (0.5e-3, 440.0, 1.468844 + 9.193169j, 1.05422 - 0.08281j),
    ],
)
def test_propagation_matches_zwikker_and_kosten(radius, frequency, gamma, zc):
    duct = line(np.array(2 * np.pi * frequency + 0j), np.array(radius), KEEFE, losses=True)
    lossless = KEEFE.density * KEEFE.speed_of_sound / (np.pi * radius**2)
    assert duct.gamma == pytest.approx(gamma, abs=2e-6)
    assert duct.zc / lossless == pytest.approx(zc, abs=1e-5)


@pytest.mark.parametrize("r_v", [20.0, 60.0, 130.0])
def test_wide_ducts_approach_keefes_expansion(r_v):
    """Keefe 1984, J. Acoust. Soc. Am. 75, 58, eq. 10 to 15 (from memory): attenuation, phase velocity, impedance."""
    radius = 6e-3
    w = (r_v / radius) ** 2 * KEEFE.viscosity / KEEFE.density
    duct = line(np.array(w + 0j), np.array(radius), KEEFE, losses=True)
    attenuation = w / KEEFE.speed_of_sound * (1.045 / r_v + 1.080 / r_v**2 + 0.750 / r_v**3)
    velocity = KEEFE.speed_of_sound / (1 + 1.045 / r_v)
    assert duct.gamma.real == pytest.approx(attenuation, rel=1e-3)
    assert duct.gamma.imag == pytest.approx(w / velocity, rel=2e-4)


def chained(ports: list[TwoPort]) -> np.ndarray:
    product = np.eye(2, dtype=complex)
    for port in ports:
        product = product @ np.array([[port.A, port.B], [port.C, port.D]])
    return product


def slices(count: int, losses: bool) -> np.ndarray:
    """A taper as cylinders, each of its middle radius."""
    edges = np.linspace(9.5e-3, 8.0e-3, count + 1)
    w = np.array(2 * np.pi * 300.0 + 0j)
    middle = 0.5 * (edges[1:] + edges[:-1])
    return chained([cone(w, r, r, np.array(0.3 / count), KEEFE, losses) for r in middle])


def test_cone_is_the_limit_of_cylinders_at_second_order():
    w = np.array(2 * np.pi * 300.0 + 0j)
    exact = chained([cone(w, np.array(9.5e-3), np.array(8.0e-3), np.array(0.3), KEEFE, losses=False)])
    errors = [np.abs(slices(n, losses=False) / exact - 1).max() for n in (8, 16, 32, 64)]
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert orders == pytest.approx([2.0, 2.0, 2.0], abs=0.05)


def test_lossy_cone_converges_at_second_order_and_is_good_at_once():
    """A closed-open taper of 9.5 to 8 mm over 300 mm, its phase error turned into cents of its first resonance."""

    def cones(count: int) -> complex:
        edges = np.linspace(9.5e-3, 8.0e-3, count + 1)
        w = np.array(2 * np.pi * 269.0 + 0j)
        T = chained([cone(w, a, b, np.array(0.3 / count), KEEFE, losses=True) for a, b in pairwise(edges)])
        return T[0, 0]  # pressure at the closed end over pressure at the open end: 0 at resonance

    exact = cones(256)
    cents = [1731 / (0.5 * np.pi) * abs(cones(n) - exact) for n in (1, 2, 4, 8, 16)]
    assert cents[0] < 0.5
    assert cents[2] < 0.03
    assert np.log2(np.array(cents[1:-1]) / np.array(cents[2:])) == pytest.approx([2.0, 2.0, 2.0], abs=0.1)


@pytest.mark.parametrize("losses", [False, True])
def test_a_two_port_is_reciprocal(losses):
    port = cone(np.array(2000.0 - 20j), np.array(9e-3), np.array(7e-3), np.array(0.1), KEEFE, losses)
    determinant = port.A * port.D - port.B * port.C
    assert determinant == pytest.approx(1.0, abs=1e-12)
