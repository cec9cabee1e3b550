"""Overblown notes keep a trace of their lower octave, 14 to 30 dB down on real duct flutes: what sounds is the octave.

Measured on the recordings published with arXiv:2107.08727 (MIT licence; one duct flute, blown by a person).
"""

import numpy as np
import pytest

from acoustics.listening.notes import Listener
from acoustics.notes.music import cents
from tests.acoustics.listening import sounds

RATE = 48000


def heard(sound, listener=None):
    listener = listener or Listener(RATE)
    listener.feed(sound)
    return listener.finish()


def framed(tone, seed=0):
    silence = np.zeros(round(0.3 * RATE))
    tone = np.concatenate([silence, tone, silence])
    return sounds.mixed(tone, sounds.breath(len(tone) / RATE, seed=seed), 20)


@pytest.mark.parametrize("trace_db", [-14, -20, -30])
@pytest.mark.parametrize("frequency", [880.0, 1092.0, 1448.0, 1820.0, 2060.0])
def test_what_sounds_is_reported_and_said_to_be_overblown(frequency, trace_db):
    (note,) = heard(framed(sounds.traced(frequency, trace_db, seed=1)))
    assert abs(cents(note.frequency, frequency)) < 1.0
    assert note.overblown


@pytest.mark.parametrize("frequency", [440.0, 1046.5, 1760.0])
@pytest.mark.parametrize(
    "partials", [sounds.FLUTE, sounds.WEAK_FUNDAMENTAL, sounds.STRONG_SECOND, sounds.ODD, sounds.PURE]
)
def test_a_note_of_the_first_register_is_not_overblown(frequency, partials):
    (note,) = heard(framed(sounds.tone(frequency, 1.0, partials=partials, seed=2)))
    assert abs(cents(note.frequency, frequency)) < 1.0
    assert not note.overblown


def test_expecting_the_note_does_not_take_its_octave_for_it():
    assert heard(framed(sounds.traced(1820.0, -20, seed=3)), Listener.expecting(RATE, "A#5")) == ()


def test_the_present_pitch_says_it_too():
    listener = Listener(RATE)
    sound = framed(sounds.traced(1448.0, -20, seed=4))
    listener.feed(sound[: round(0.9 * RATE)])
    now = listener.now()
    assert now is not None
    assert abs(cents(now.frequency, 1448.0)) < 2.0
    assert now.overblown
