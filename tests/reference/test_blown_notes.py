"""The jet model against the published pitches of a duct flute blown by a person (data/duct_flute_breath.json).

The flute's sizes are not published: bore, window and flue are assumed, and its foot and holes placed so that its
resonances lie on the seven notes. The pressure gauge saw an unknown share of the mouth's pressure, so the jet's speed
is `share` times what Bernoulli gives for the reading. Two constants were fitted, on D, F and A alone: that share, of
this one recording, and the narrowing of the flow through the window, which the engine keeps. E, G, B and the whole
second register test them. Each note's offset is free: no pitch curve says where its resonance lies.
"""

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from acoustics.blowing.jet import VENA_CONTRACTA, Jet
from acoustics.blowing.poles import Poles, poles
from acoustics.blowing.registers import Curves, curves
from acoustics.blowing.sounding import START_EXPONENT, soundings
from acoustics.flute.instrument import Body, Flue, Hole, Instrument, Window
from acoustics.model.air import PLAYED_FLUTE

NOTES = json.loads((Path(__file__).parent / "data" / "duct_flute_breath.json").read_text())["notes"]
NAMES = "CDEFGAB"
FITTED, HELD_OUT = "DFA", "EGB"
SHARE = 2.8
DENSITY = 1.19
CHART = tuple("x" * (6 - n) + "o" * n for n in range(7))
FLUTE = Instrument(
    bore=((-6.0, 12.5), (283.7, 10.5)),
    body=Body("round", 3.0),
    window=Window(4.0, 10.0),
    holes=tuple(Hole(x, 6.0) for x in (129.2, 149.9, 173.4, 200.4, 212.7, 242.8)),
    flue=Flue(1.0, 10.0, 30.0),
)


@cache
def found() -> Poles:
    return poles(FLUTE, PLAYED_FLUTE, CHART)


@cache
def model(loss: float = VENA_CONTRACTA) -> Curves:
    return curves(found(), replace(Jet.of(FLUTE, PLAYED_FLUTE), loss=loss))


def read_pressure(speed, share=SHARE):
    """What the gauge shows for a jet speed."""
    return 0.5 * DENSITY * (speed / share) ** 2


def predicted(name, register, pressures, loss=VENA_CONTRACTA, share=SHARE):
    """Cents over the resonance at pressures that the gauge shows."""
    i, r = NAMES.index(name), register - 1
    tones = model(loss)
    here = tones.velocity[i, r] > 0
    passive = found().pole[i, r].imag / (2 * np.pi)
    cents = 1200 * np.log2(tones.frequency[i, r, here] / passive)
    return np.interp(np.log(pressures), np.log(read_pressure(tones.speed[i, r, here], share)), cents)


def measured(name, register):
    """Pressures and cents, above the sensor's noise."""
    points = np.array(NOTES[name]["first" if register == 1 else "second"])
    return points[points[:, 0] >= 35].T


def misfit(names, register, **constants):
    """Root mean square of measured less predicted, each note about its own mean [cents]."""
    off = []
    for name in names:
        pressures, cents = measured(name, register)
        left = cents - predicted(name, register, pressures, **constants)
        off.extend(left - left.mean())
    return float(np.sqrt(np.mean(np.square(off))))


def slope(name, register):
    """Predicted cents for each doubling of the pressure, over the measured range."""
    pressures, _ = measured(name, register)
    return np.polyfit(np.log2(pressures), predicted(name, register, pressures), 1)[0]


def test_curves_of_the_notes_that_were_fitted_and_of_those_that_were_not():
    assert misfit(FITTED, 1) < 4.5
    assert misfit(HELD_OUT, 1) < 5.5
    assert misfit("DEFGAB", 2) < 7.5


def test_the_window_loses_more_than_the_book_says():
    """0.6 is the vena contracta of Fabre, Hirschberg and Wijnands 1996, with the share fitted again beside it."""
    books = min(misfit(FITTED, 1, loss=0.6, share=share) for share in np.arange(1.6, 3.4, 0.1))
    assert misfit(FITTED, 1) < 0.75 * books


def test_a_quarter_of_a_period_and_not_a_half():
    """cents = own offset + A tan(x0 - K f / sqrt(p)): the turn of the wave on its way at which nothing is pulled."""
    fits = {}
    for rule in (np.pi / 2, np.pi):
        best = np.inf
        for k in np.linspace(0.005, 0.06, 111):
            columns, cents = [], []
            for name in "DEFGAB":
                pressures, heard = measured(name, 1)
                turn = k * NOTES[name]["reference_hz"] / np.sqrt(pressures)
                if (np.abs(rule - turn) > 1.45).any():
                    break
                bent = np.tan(rule - turn)
                columns.extend(bent - bent.mean())
                cents.extend(heard - heard.mean())
            else:
                a = np.dot(columns, cents) / np.dot(columns, columns)
                if a > 0:
                    best = min(best, np.sqrt(np.mean((np.array(cents) - a * np.array(columns)) ** 2)))
        fits[rule] = best
    assert fits[np.pi / 2] < 7.0
    assert fits[np.pi] > 1.8 * fits[np.pi / 2]


# Cents for each doubling of the pressure in the first and second register, with their standard errors, all frames.
SLOPES = {
    "D": ((42, 5), (32.0, 0.4)),
    "E": ((42, 4), (27.9, 1.0)),
    "F": ((46, 3), (29.1, 1.3)),
    "G": ((44, 2), (26.3, 1.0)),
    "A": ((46, 1), (22.5, 1.6)),
    "B": ((49, 2), (34.0, 6.0)),
}


@pytest.mark.parametrize("name", SLOPES)
def test_slopes(name):
    (first, _), _ = SLOPES[name]
    assert slope(name, 1) == pytest.approx(first, rel=0.25)
    assert slope(name, 1) > 1.05 * slope(name, 2) > 0


def test_mean_slopes():
    for register in (1, 2):
        own = np.mean([slope(name, register) for name in SLOPES])
        known = np.mean([both[register - 1][0] for both in SLOPES.values()])
        assert own == pytest.approx(known, rel=0.25)


def test_first_register_is_one_curve_in_pressure_over_frequency_squared():
    """Measured: 6.7 cents without note offsets, 27.5 in pressure alone."""
    spread = {}
    for power in (0, 2):
        x, cents = [], []
        for name in "DEFGAB":
            pressures, _ = measured(name, 1)
            x.extend(np.log2(pressures / NOTES[name]["reference_hz"] ** power))
            cents.extend(predicted(name, 1, pressures))
        curve = np.polyval(np.polyfit(x, cents, 2), x)
        spread[power] = np.sqrt(np.mean((np.array(cents) - curve) ** 2))
    assert spread[2] < 8.0
    assert spread[0] > 2.5 * spread[2]


def thresholds(what):
    """Those of the engine, and the measured ones, for each note."""
    jet = Jet.of(FLUTE, PLAYED_FLUTE)
    own = [getattr(note, what) for note in soundings(FLUTE, PLAYED_FLUTE, CHART)]
    speed = jet.speed(np.array(own, dtype=float))
    return read_pressure(speed), np.array([NOTES[name][what.removesuffix("_at")] for name in NAMES])


def exponent(pressures):
    frequency = [NOTES[name]["reference_hz"] for name in NAMES]
    return np.polyfit(np.log(frequency), np.log(pressures), 1)[0]


def test_falling_back_goes_with_frequency_squared():
    """Measured: exponent 2.06 +- 0.08, a constant reduced jet speed. No constant was fitted to it."""
    jet = Jet.of(FLUTE, PLAYED_FLUTE)
    back = np.array([note.falls_back_at for note in soundings(FLUTE, PLAYED_FLUTE, CHART)])
    reduced = jet.speed(back) / np.array([NOTES[name]["reference_hz"] for name in NAMES]) / jet.cut_up
    assert reduced.std() < 0.05 * reduced.mean()
    known = np.sqrt([2 * NOTES[name]["falls_back"] / DENSITY for name in NAMES])
    measured_reduced = SHARE * known / np.array([NOTES[name]["reference_hz"] for name in NAMES]) / jet.cut_up
    assert reduced.mean() == pytest.approx(measured_reduced.mean(), rel=0.2)


def test_jumping_up_comes_later_than_falling_back():
    """Measured: 1.0 (C) to 1.7 (A) times, 1.3 in the mean; the model's jump, of an infinitely slow swell, is later."""
    notes = soundings(FLUTE, PLAYED_FLUTE, CHART)
    ratio = np.array([note.overblows_at / note.falls_back_at for note in notes])
    known = np.array([NOTES[name]["jumps"] / NOTES[name]["falls_back"] for name in NAMES])
    assert (ratio > 1).all()
    assert np.exp(np.mean(np.log(ratio / known))) == pytest.approx(1.0, abs=0.35)


def test_a_note_starts_at_nearly_the_same_pressure_whichever_it_is():
    """Measured: 18 to 27 Pa for every note, exponent 0.51 +- 0.20, and not frequency squared."""
    known = np.array([NOTES[name]["speaks"] for name in NAMES])
    assert exponent(known) == pytest.approx(START_EXPONENT, abs=0.2)
    own = np.array([note.speaks_at for note in soundings(FLUTE, PLAYED_FLUTE, CHART)])
    assert exponent(own) == pytest.approx(START_EXPONENT, abs=0.05)
    gauge = read_pressure(Jet.of(FLUTE, PLAYED_FLUTE).speed(own))
    assert np.abs(np.log(gauge / known)).max() < np.log(2)
