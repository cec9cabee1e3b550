"""The present pitch, as the bench asks for it while it listens."""

import numpy as np
import pytest

from acoustics.listening.notes import Listener
from acoustics.notes.music import cents
from tests.acoustics.listening import sounds

RATE, BLOCK = 48000, 480


def followed(sound):
    """(time, present) after each block of 10 ms."""
    listener = Listener(RATE)
    seen = []
    for begin in range(0, len(sound) - BLOCK + 1, BLOCK):
        listener.feed(sound[begin : begin + BLOCK])
        seen.append(((begin + BLOCK) / RATE, listener.now()))
    return seen


@pytest.mark.parametrize("frequency", [261.63, 880.0, 2093.0])
def test_it_comes_soon_stays_true_and_goes(frequency):
    tone = np.concatenate([np.zeros(RATE // 2), sounds.tone(frequency, 1.0, seed=1), np.zeros(RATE // 2)])
    seen = followed(sounds.mixed(tone, sounds.breath(3, seed=2, fundamental=frequency), 20))
    assert not any(p.steady for t, p in seen if p and t <= 0.5)
    first = next(t for t, p in seen if p and abs(cents(p.frequency, frequency)) < 10.0 and t > 0.5)
    assert first < 0.5 + 0.15  # the frame of 60 ms and five more
    for t, present in seen:
        if 0.8 < t < 1.45:
            assert abs(cents(present.frequency, frequency)) < 3.0
            assert present.sd_cents < 4.0
    assert all(p.steady for t, p in seen if 0.9 < t < 1.45)
    assert not any(p.steady for t, p in seen if p and t > 1.6)


def test_it_follows_a_change_within_a_tenth_of_a_second():
    sound = np.concatenate([sounds.tone(440.0, 1.0, attack=0.0), sounds.tone(466.16, 1.0, attack=0.0)])
    seen = followed(sounds.mixed(sound, sounds.white(2, seed=3), 30))
    later = [p for t, p in seen if t > 1.13]
    assert all(p and abs(cents(p.frequency, 466.16)) < 2.0 for p in later)


def test_noise_is_not_shown_as_steady():
    for sound in (sounds.breath(10, seed=4, q=30), sounds.speech(10, seed=5, voice=200)):
        assert not any(p.steady for _, p in followed(0.3 * sound) if p)


def test_nothing_is_shown_outside_the_range():
    seen = followed(0.2 * sounds.tone(110.0, 1.0, partials=(1.0, 0.8, 0.5, 0.3)))
    assert not any(p for _, p in seen)
