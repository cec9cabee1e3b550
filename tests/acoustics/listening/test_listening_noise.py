"""What is no blown note gives none."""

import numpy as np
import pytest

from acoustics.listening.notes import Listener
from tests.acoustics.listening import sounds


def heard(sound, rate=48000):
    listener = Listener(rate)
    listener.feed(np.asarray(sound, np.float32))
    return listener.finish()


@pytest.mark.parametrize("fundamental", [262.0, 440.0, 880.0, 1760.0])
@pytest.mark.parametrize(("q", "resonant"), [(10.0, 1.0), (30.0, 1.0), (45.0, 5.0)])
def test_breath_alone(fundamental, q, resonant):
    assert heard(0.3 * sounds.breath(20, seed=int(q), fundamental=fundamental, q=q, resonant=resonant)) == ()


@pytest.mark.parametrize("level", [1e-4, 0.3])
def test_white_noise(level):
    assert heard(level * sounds.white(20, seed=1)) == ()


@pytest.mark.parametrize("voice", [90.0, 130.0, 200.0, 260.0])
@pytest.mark.parametrize("liveliness", [0.3, 1.0])
def test_speech(voice, liveliness):
    assert heard(0.3 * sounds.speech(20, seed=int(voice), voice=voice, liveliness=liveliness)) == ()


@pytest.mark.parametrize("mains", [50.0, 60.0, 100.0, 120.0])
def test_hum_of_the_room(mains):
    assert heard(0.3 * sounds.hum(10, seed=int(mains), mains=mains)) == ()


@pytest.mark.parametrize("every", [0.03, 0.2])
def test_clicks_and_fingers(every):
    assert heard(sounds.knocks(20, seed=2, every=every)) == ()


def test_silence():
    assert heard(np.zeros(5 * 48000)) == ()
    assert heard(np.zeros(0)) == ()
    assert heard(np.full(48000, 0.5)) == ()  # a constant offset


def test_a_note_too_short_to_be_steady():
    sound = np.concatenate([np.zeros(9600), sounds.tone(440, 0.2), np.zeros(9600)])
    assert heard(0.2 * sound) == ()


def test_a_slide_is_no_steady_note():
    t = np.arange(2 * 48000) / 48000
    assert heard(0.2 * np.sin(2 * np.pi * np.cumsum(440 * 2 ** (0.5 * t)) / 48000)) == ()


def test_a_note_among_all_of_it_is_still_found():
    sound = 0.2 * sounds.knocks(4, seed=3) + 0.03 * sounds.hum(4, seed=4) + 0.02 * sounds.breath(4, seed=5)
    sound[48000:96000] += 0.2 * sounds.tone(587.33, 1.0, seed=6)
    (note,) = heard(sound)
    assert abs(1200 * np.log2(note.frequency / 587.33)) < 1.0
