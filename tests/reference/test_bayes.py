"""The update of belief against posteriors by brute force: no linearisation, no closed form, the exact model.

Bayes' theorem on a grid, and by importance sampling (Kong, Liu and Wong 1994, J. Am. Stat. Assoc. 89, 278, for the
effective number of samples), as in Gelman and others, Bayesian Data Analysis (2013), chapter 10.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from acoustics.belief.corrections import Prior
from acoustics.belief.heard import Comparison, Reading, Unknowns
from acoustics.belief.posterior import WIDTHS, Posterior, Width, prior_of, update
from acoustics.belief.sounding import first_resonances, network
from acoustics.designing.design import DesignRequest, design
from acoustics.model.implicit import CENTS
from acoustics.model.resonance import open_nodes
from acoustics.tuning.aims import controls_of, with_controls

FOUND = design(DesignRequest.from_json({"key": "A4", "drills": None}))
FLUTE = FOUND.instrument
AIR = DesignRequest.from_json({"key": "A4"}).air
NARROW = with_controls(FLUTE, controls_of(FLUTE) * np.array([1.03, *[0.8] * 6]))
BARE = Prior(note_sd=1e-4, smooth_sd=0.0, hole_sd=0.0, session_sd=1e-4, cut_sd=1e-6)
"""Only the four corrections are uncertain: few enough for a grid."""


def exact(flute, fingering: str, shapes: np.ndarray) -> np.ndarray:  # type: ignore[no-untyped-def]
    """Resonances (n,) in Hz of one fingering for many (window, bore, holes), by Newton's method to the end."""
    near = first_resonances(flute, AIR, [fingering], np.zeros(3), np.array([500.0]))
    moves = np.concatenate([shapes, np.zeros((len(shapes), 1 + len(flute.holes)))], axis=1)
    net = network([flute], AIR, np.zeros(3), moves)
    is_open = open_nodes([fingering], net.geometry)
    w = np.full((len(shapes), 1, 1), near[0])
    for _ in range(6):
        F, F1 = net.characteristic(w, is_open), net.characteristic(w * (1.0 + 1e-6), is_open)
        w = w - F * 1e-6 * w / (F1 - F)
    return w[:, 0, 0].real / (2.0 * np.pi)


def sounding(flute, fingering: str, corrections: Sequence[float]) -> Reading:  # type: ignore[no-untyped-def]
    hertz = exact(flute, fingering, np.array([corrections[:3]]))[0] * 2.0 ** (corrections[3] / 1200.0)
    return Reading(fingering, float(hertz), flute, AIR)


KNOWN = (Width(1.0, 1.0, 1.0, 1.0),)
"""Prior and noise are just as wide as stated."""


def believe(readings: Sequence[Reading], prior: Prior, widths: Sequence[Width] = WIDTHS) -> Posterior:
    names = list(dict.fromkeys(r.fingering for r in readings))
    w = first_resonances(FLUTE, AIR, names, prior.mean[:3], np.array([500.0] * len(names)))
    hertz = {name: float(one.real / (2.0 * np.pi)) for name, one in zip(names, w, strict=True)}
    unknowns = Unknowns.of(names, [r.instrument for r in readings], hertz)
    now = dict(zip(names, w.tolist(), strict=True))
    return update(prior, unknowns, readings, Comparison(readings, unknowns, AIR, now).at, widths=widths, wrong=0.0)


def log_posterior(readings: Sequence[Reading], x: np.ndarray, covariance: np.ndarray, sd: float) -> np.ndarray:
    """Of corrections (n, 4), up to a constant; those with no variance are held still.

    How wide the prior and the noise are is itself uncertain: a mixture of normals.
    """
    off = np.zeros((len(x), len(readings)))
    for i, reading in enumerate(readings):
        model = CENTS * np.log(exact(reading.instrument, reading.fingering, x[:, :3])) + x[:, 3]
        off[:, i] = (CENTS * np.log(reading.frequency) - model) / sd
    free = np.flatnonzero(np.diag(covariance) > 0.0)
    far = np.einsum("ij,jk,ik->i", x[:, free], np.linalg.inv(covariance[np.ix_(free, free)]), x[:, free])
    parts = []
    for scale, _, noise, odds, _ in WIDTHS:
        part = np.log(odds) - 0.5 * far / scale**2 - len(free) * np.log(scale)
        parts.append(part - 0.5 * np.sum(off**2, axis=1) / noise**2 - len(readings) * np.log(noise))
    return np.asarray(np.logaddexp.reduce(parts))


def test_the_posterior_of_window_and_holes_is_that_of_a_grid() -> None:
    """Bore and air held still: two unknowns, 61 by 61 points over five standard deviations either way."""
    small = np.diag([0.3**2, 1e-12, 0.03**2, 1e-8])
    prior = replace(BARE, covariance=small)
    readings = [
        sounding(NARROW, "xxxxxx", (0.35, 0.0, -0.04, 0.0)),
        sounding(NARROW, "xxxxoo", (0.30, 0.0, -0.03, 0.0)),
        sounding(FLUTE, "xxoooo", (0.40, 0.0, -0.05, 0.0)),
    ]
    found = believe(readings, prior)
    assert found.width.corrections == 1.0
    window, holes = np.meshgrid(np.linspace(-0.6, 1.2, 61), np.linspace(-0.13, 0.09, 61), indexing="ij")
    shapes = np.stack([window.ravel(), np.zeros(window.size), holes.ravel(), np.zeros(window.size)], axis=1)
    log_p = log_posterior(readings, shapes, np.diag([0.3**2, 0.0, 0.03**2, 0.0]), prior.reading_sd)
    p = np.exp(log_p - log_p.max())
    p /= p.sum()
    for at in (0, 2):
        mean = float(p @ shapes[:, at])
        sd = float(np.sqrt(p @ (shapes[:, at] - mean) ** 2))
        assert found.mean[at] == pytest.approx(mean, abs=0.05 * sd)
        assert np.sqrt(found.covariance[at, at]) == pytest.approx(sd, rel=0.05)
    both = float(p @ ((shapes[:, 0] - p @ shapes[:, 0]) * (shapes[:, 2] - p @ shapes[:, 2])))
    scale = np.sqrt(found.covariance[0, 0] * found.covariance[2, 2])
    assert found.covariance[0, 2] / scale == pytest.approx(both / scale, abs=0.05)


def test_the_posterior_of_all_four_is_that_of_importance_sampling() -> None:
    readings = [
        sounding(NARROW, "xxxxxx", (0.2, 0.006, -0.03, 6.0)),
        sounding(NARROW, "xxxooo", (0.25, 0.006, -0.03, 5.0)),
        sounding(FLUTE, "xxxxxx", (0.2, 0.006, -0.03, 8.0)),
        sounding(FLUTE, "ooxooo", (0.2, 0.004, -0.02, 6.0)),
    ]
    found = believe(readings, BARE)
    rng = np.random.default_rng(4)
    # From a normal a little wider than the answer: what it is must not depend on where it is drawn from.
    centre, wide = found.mean[:4], 1.3**2 * found.covariance[:4, :4]
    x = rng.multivariate_normal(centre, wide, size=6000)
    off = x - centre
    log_q = -0.5 * np.einsum("ij,jk,ik->i", off, np.linalg.inv(wide), off)
    log_p = log_posterior(readings, x, BARE.covariance, BARE.reading_sd)
    weight = np.exp(log_p - log_q - (log_p - log_q).max())
    weight /= weight.sum()
    assert 1.0 / np.sum(weight**2) > 1500.0  # effective number of samples
    mean = weight @ x
    sd = np.sqrt(weight @ (x - mean) ** 2)
    assert np.max(np.abs(found.mean[:4] - mean) / sd) < 0.1
    assert np.sqrt(np.diag(found.covariance)[:4]) == pytest.approx(sd, rel=0.07)


def test_leaving_a_reading_out_agrees_with_not_having_it() -> None:
    truth = (0.2, 0.006, -0.03, 6.0)
    readings = [sounding(FLUTE, f, truth) for f in ("xxxxxx", "xxxxoo", "xxoooo", "xxxxxx")]
    readings[1] = replace(readings[1], frequency=readings[1].frequency * 2.0 ** (7.0 / 1200.0))
    every = believe(readings, Prior(), KNOWN)
    without = believe(readings[:1] + readings[2:], Prior(), KNOWN)
    model = CENTS * np.log(exact(FLUTE, "xxxxoo", np.array([without.mean[:3]]))[0]) + without.mean[3]
    # What the other notes say of this one's own offset: neighbours share some of theirs.
    prior, notes = Prior(), [without.unknowns.note(f) for f in ("xxxxxx", "xxoooo")]
    pitch = dict(zip(every.unknowns.notes, every.unknowns.pitches, strict=True))
    low, own, high = (pitch[f] for f in ("xxxxxx", "xxxxoo", "xxoooo"))
    known = [prior_of(prior, without.unknowns).nameless[i, j] for i in notes for j in notes]
    near = [prior.smooth_sd**2 * np.exp(-0.5 * ((own - at) / 0.35) ** 2) for at in (low, high)]
    offset = np.array(near) @ np.linalg.solve(np.array(known).reshape(2, 2), without.mean[notes])
    # Holes that it needs open and the others do not are expected as the prior has them; the sitting is the same.
    heard = CENTS * np.log(readings[1].frequency)
    height = every.unknowns.shared("xxxxoo", 1) - np.array([0.0, 0.0, 0.0])
    sitting = float(height @ every.mean[every.unknowns.sitting])
    assert every.residual[1] == pytest.approx(heard - model - offset - sitting, abs=1.0)
    assert every.good == pytest.approx(np.ones(4))


def test_spread_of_a_mean_of_readings_falls_with_the_root_of_their_number() -> None:
    """With nothing else known, sd / sqrt(n) (Gelman et al., Bayesian Data Analysis, section 2.5, from memory)."""
    prior = replace(BARE, covariance=np.diag([1e-10, 1e-10, 1e-10, 100.0**2]))
    for n in (1, 4, 9):
        found = believe([sounding(FLUTE, "xxxxxx", (0.0, 0.0, 0.0, 2.0))] * n, prior, KNOWN)
        assert np.sqrt(found.covariance[3, 3]) == pytest.approx(prior.reading_sd / np.sqrt(n), rel=2e-3)
