"""Openings against published values, with the source beside each."""

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import i1e, k1e

from acoustics.model.openings import (
    FLANGED,
    UNFLANGED,
    foot_dispersion,
    foot_length,
    hole_dispersion,
    hole_inside_length,
    hole_outside_length,
    saddle_length,
    series_length,
    top_sag,
)

DATA = Path(__file__).parents[2] / "reference" / "data"
ROUND, SQUARE = np.array(False), np.array(True)


def rows(name: str) -> list[dict]:
    return [json.loads(line) for line in (DATA / name).read_text().splitlines()]


def test_unflanged_end_is_levine_and_schwingers_integral():
    """Levine and Schwinger 1948, Phys. Rev. 73, 383, static: l / a = (1/pi) integral of ln(1 / (2 I1 K1)) / x^2."""

    def integrand(x: float) -> float:
        return float(np.log(1.0 / (2.0 * i1e(x) * k1e(x))) / x**2)

    value = (quad(integrand, 0.0, 1.0)[0] + quad(integrand, 1.0, np.inf)[0]) / np.pi
    assert pytest.approx(value, abs=2e-4) == UNFLANGED
    assert foot_length(np.array(1.0), np.array(1.0)) == pytest.approx(value, abs=5e-4)


def test_flanged_end_is_norris_and_shengs():
    """Norris and Sheng 1989, J. Sound Vib. 135, 85: 0.8217 (0.82159 in closed form by other authors, from memory)."""
    assert pytest.approx(0.8216, abs=2e-4) == FLANGED
    assert foot_length(np.array(1e-3), np.array(1.0)) == pytest.approx(1e-3 * FLANGED, rel=1e-3)


@pytest.mark.parametrize(
    ("ratio", "length"), [(1.1, 0.6542), (1.2, 0.6761), (1.35, 0.6980), (1.5, 0.7135), (2.0, 0.7441), (3.0, 0.7713)]
)
def test_thick_foot_follows_finite_elements(ratio, length):
    """Own finite elements of a pipe with a square-cut thick wall; the formula is Dalmont and others 2001, eq. 40 on."""
    assert foot_length(np.array(1.0), np.array(ratio)) == pytest.approx(length, abs=0.004)


@pytest.mark.parametrize(("ka", "length"), [(0.1, 0.61099), (0.2, 0.60638)])
def test_foot_falls_with_frequency_as_levine_and_schwinger_say(ka, length):
    """Unflanged pipe, Levine and Schwinger 1948, evaluated from their exact integrals."""
    one = np.array(1.0)
    assert foot_length(one, one) - foot_dispersion(one, one) * ka**2 == pytest.approx(length, abs=2e-3)


@pytest.mark.parametrize(
    ("delta", "shunt", "tolerance"),
    [(0.2, 0.7712, 0.010), (0.35, 0.7038, 0.010), (0.5, 0.6241, 0.006), (0.7, 0.5031, 0.006), (0.95, 0.3428, 0.006)],
)
def test_inner_shunt_follows_finite_elements(delta, shunt, tolerance):
    """Inner and saddle length over hole radius: own finite elements of a hole with a level top in a long bore."""
    b, a = np.array(delta), np.array(1.0)
    assert (hole_inside_length(b, a) + saddle_length(b, a)) / b == pytest.approx(shunt, abs=tolerance)


def test_two_published_inner_lengths_agree():
    """Nederveen, Jansen and van Hassel 1998, Acustica 84, 957 (from memory) beside Lefebvre and Scavone 2012."""
    d = np.linspace(0.2, 0.7, 6)
    older = 0.82 - 0.193 * d - 1.09 * d**2 + 1.27 * d**3 - 0.71 * d**4
    assert hole_inside_length(d, np.ones(6)) / d == pytest.approx(older, abs=0.01)


def test_series_length_of_a_tall_hole():
    """Lefebvre and Scavone 2012: both states tend to -0.29 b d^2; own finite elements give -0.297 at d = 0.5."""
    b, a = np.array(0.5), np.array(1.0)
    for state in (True, False):
        assert series_length(b, a, np.array(2.0), np.array(state)) / (0.5 * 0.25) == pytest.approx(-0.29, abs=0.01)


def test_outer_length_of_a_round_body_is_near_dalmonts():
    """Dalmont, Nederveen and Joly 2001: 0.822 - 0.47 (b / R)^0.8, for a level rim."""
    b = np.array([0.15, 0.3, 0.45])
    assert hole_outside_length(b, np.ones(3), ROUND) / b == pytest.approx(0.822 - 0.47 * b**0.8, abs=0.015)


@pytest.mark.parametrize("row", [r for r in rows("hole_static.jsonl") if r["is_open"]], ids=str)
def test_open_hole_follows_finite_elements(row):
    """Whole shunt of an open hole in a round or square body, undercut or not, data/hole_static.jsonl."""
    b, t, a = np.array(row["radius"]), np.array(row["wall"]), np.array(1.0)
    inner = b + row["undercut"]
    flat = np.array(row["flat"])
    shunt = (t + saddle_length(inner, a)) / (np.pi * b * inner) + hole_inside_length(inner, a) / (np.pi * inner**2)
    shunt += hole_outside_length(b, 1 + t, flat) / (np.pi * b**2)
    expected = row["symmetric"] - row["antisymmetric"] / 4
    assert shunt == pytest.approx(expected, rel=0.011 if row["undercut"] else 0.006)
    assert series_length(inner, a, t, np.array(True)) / np.pi == pytest.approx(row["antisymmetric"], rel=0.2)


def test_hole_dispersion_follows_finite_elements():
    off = []
    for row in rows("hole_dispersion.jsonl"):
        if row["undercut"] or row["radius"] < 0.3:
            continue  # in a small hole the rise is lost in the hole's own large inertance
        b, t, a, flat = np.array(row["radius"]), np.array(row["wall"]), np.array(1.0), np.array(row["flat"])
        S, k = np.pi * b**2, row["ka"][-1]
        tall = t + saddle_length(b, a) + hole_outside_length(b, 1 + t, flat)
        rise = row["shunt"][-1][0] - row["shunt"][0][0] - (np.tan(k * tall) / k - tall) / S
        off.append(rise / k**2 - hole_dispersion(a, t, flat))
    assert len(off) >= 12
    assert np.abs(off).max() < 0.035


def test_a_closed_hole_of_no_height_does_nothing_but_its_saddle():
    """Its volume is that between bore and flat top, less the sag of the body's outside: nothing as the hole shrinks."""
    b = np.array([0.4, 0.1, 0.02])
    volume = np.pi * b**2 * (saddle_length(b, np.ones(3)) - top_sag(b, np.ones(3), ROUND))
    assert (np.abs(volume) < 0.006 * b**3).all()
    assert top_sag(b, np.ones(3), SQUARE) == pytest.approx(0.0)
