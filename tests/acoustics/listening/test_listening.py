"""Pitch of synthesised tones whose frequency is known by construction, and the bound that no estimator can beat."""

import numpy as np
import pytest

from acoustics.errors import InvalidInput
from acoustics.listening.notes import Listener
from acoustics.listening.steadiness import SteadyNote, continued
from acoustics.notes.music import cents, frequency, parse_note
from tests.acoustics.listening import sounds

RATE = 48000


def heard(sound, rate=RATE, listener=None):
    listener = listener or Listener(rate)
    listener.feed(sound)
    return listener.finish()


def framed(tone, rate=RATE, pause=0.3):
    silence = np.zeros(round(pause * rate))
    return np.concatenate([silence, tone, silence])


def only(notes: tuple[SteadyNote, ...]) -> SteadyNote:
    assert len(notes) == 1, notes
    return notes[0]


@pytest.mark.parametrize("name", ["C4", "F4", "A4", "D5", "G5", "C6", "F#6", "C7"])
@pytest.mark.parametrize(("snr", "within"), [(20, 0.5), (10, 2.0)])
@pytest.mark.parametrize("noise", ["white", "breath"])
def test_pitch_is_found_within_the_noise(name, snr, within, noise):
    true = frequency(parse_note(name))
    tone = framed(sounds.tone(true, 1.0, glide_cents=-80, seed=1))
    rushing = sounds.white(2, seed=2) if noise == "white" else sounds.breath(2, fundamental=true * 1.01, seed=2)
    note = only(heard(sounds.mixed(tone, rushing, snr)))
    assert abs(cents(note.frequency, true)) < within
    assert abs(cents(note.frequency, true)) < max(3 * note.sd_cents, 0.1)


@pytest.mark.parametrize(
    "partials",
    [sounds.WEAK_FUNDAMENTAL, sounds.STRONG_SECOND, sounds.NO_FUNDAMENTAL, sounds.ODD, sounds.PURE],
    ids=["weak fundamental", "strong second", "no fundamental", "odd", "pure"],
)
@pytest.mark.parametrize("name", ["C4", "A4", "C6", "C7"])
def test_never_an_octave_off(partials, name):
    true = frequency(parse_note(name))
    tone = framed(sounds.tone(true, 0.8, partials=partials, glide_cents=60, seed=3))
    note = only(heard(sounds.mixed(tone, sounds.breath(2, fundamental=true, seed=4), 12)))
    assert abs(cents(note.frequency, true)) < 1.0


def test_second_register_over_the_noise_of_the_first():
    """Overblown: the bore's first resonance still shapes the breath an octave below the tone."""
    tone = framed(sounds.tone(880.0, 1.2, partials=(1.0, 0.3, 0.1), seed=5))
    note = only(heard(sounds.mixed(tone, sounds.breath(2, fundamental=440.0, q=35, resonant=3, seed=6), 12)))
    assert abs(cents(note.frequency, 880.0)) < 1.0


@pytest.mark.parametrize("depth", [10, 20, 30])
def test_vibrato_is_averaged_and_shown_as_spread(depth):
    tone = framed(sounds.tone(523.25, 2.0, vibrato_cents=depth, tremolo=0.15, seed=7))
    note = only(heard(sounds.mixed(tone, sounds.breath(3, seed=8), 20)))
    assert abs(cents(note.frequency, 523.25)) < 2.0
    assert note.sd_cents == pytest.approx(depth / np.sqrt(2), rel=0.15)


def test_a_scale_played_without_a_pause_gives_its_notes():
    names = ["A4", "C5", "D5", "E5", "G5"]
    tune = np.concatenate(
        [sounds.tone(frequency(parse_note(n)), 0.6, attack=0.01, seed=i) for i, n in enumerate(names)]
    )
    notes = heard(sounds.mixed(framed(tune), sounds.breath(4, seed=9), 20))
    assert [round(12 * np.log2(n.frequency / 440) + 69) for n in notes] == [parse_note(n) for n in names]
    for i, note in enumerate(notes):
        assert 0.3 + 0.6 * i <= note.start < note.end <= 0.3 + 0.6 * (i + 1)


def test_start_end_and_level_are_those_of_the_steady_part():
    tone = framed(sounds.tone(440.0, 1.5, partials=sounds.PURE, attack=0.02))
    note = only(heard(sounds.mixed(tone, sounds.white(3), 60, level=10 ** (-18 / 20))))
    assert note.level_db == pytest.approx(-18.0, abs=0.2)  # a sine of amplitude 1 is 0 dB
    assert 0.3 < note.start < 0.45
    assert 1.7 < note.end < 1.8


@pytest.mark.parametrize("rate", [8000, 11025, 16000, 22050, 44100, 96000, 192000])
def test_any_rate(rate):
    tone = framed(sounds.tone(1046.5, 1.0, rate, seed=10), rate)
    note = only(heard(sounds.mixed(tone, sounds.white(2, rate, seed=11), 20), rate))
    assert abs(cents(note.frequency, 1046.5)) < 0.2


def test_error_lies_at_the_cramer_rao_bound():
    """Outside check: Rife & Boorstyn 1974, IEEE Trans. Inf. Theory 20, 591; for a real tone Kay 1993, Fundamentals of
    Statistical Signal Processing, vol. 1, ex. 3.14: var f >= 12 / ((2 pi)^2 snr N (N^2 - 1)) rate^2."""
    true, seconds, snr, trials = 440.0, 0.6, 10.0, 60
    n = round(seconds * RATE)
    bound = RATE * np.sqrt(12 / (snr * n * (n**2 - 1.0))) / (2 * np.pi)
    errors = []
    for trial in range(trials):
        tone = sounds.tone(true, seconds, partials=sounds.PURE, attack=0.0, seed=trial)
        errors.append(only(heard(sounds.mixed(tone, sounds.white(1, seed=1000 + trial), 10.0))).frequency - true)
    rms = np.sqrt(np.mean(np.square(errors)))
    # The scatter of an rms of 60 trials is 9 %; the window, which fades at the ends, costs some of the sound.
    assert 0.75 < rms / bound < 1.5


def test_blocks_do_not_matter():
    sound = sounds.mixed(framed(sounds.tone(660.0, 1.0, seed=12)), sounds.breath(2, seed=13), 15)
    stereo = np.stack([sound, -0.5 * sound], axis=1)
    whole, bits, pair = Listener(RATE), Listener(RATE), Listener(RATE)
    for begin in range(0, len(sound), 777):
        bits.feed(sound[begin : begin + 777])
        pair.feed(stereo[begin : begin + 777])
    assert only(heard(sound, listener=whole)) == only(bits.finish())
    assert only(pair.finish()).frequency == pytest.approx(only(whole.notes()).frequency, rel=1e-6)


def test_expecting_a_note_leaves_out_the_others():
    pieces = [sounds.tone(f, 0.7, seed=i) for i, f in enumerate((440.0, 523.25, 880.0, 452.0, 220.0))]
    sound = sounds.mixed(framed(np.concatenate(pieces)), sounds.breath(5, seed=14), 20)
    assert len(heard(sound)) == 5
    notes = heard(sound, listener=Listener.expecting(RATE, "A4"))
    assert [round(n.frequency) for n in notes] == [440, 452]
    with pytest.raises(InvalidInput, match="expect"):
        Listener.expecting(RATE, "H4")


@pytest.mark.parametrize("bad", [np.array([0.1, np.nan]), np.array([np.inf]), np.array([1e9]), np.zeros((4, 3))])
def test_what_is_no_sound_is_refused(bad):
    with pytest.raises(InvalidInput, match="samples"):
        Listener(RATE).feed(bad)


def test_a_note_is_one_although_the_octave_followed_changes():
    before = SteadyNote(1.0, 2.0, 440.0, 1.0, -20.0)
    whole = continued(before, SteadyNote(2.02, 5.02, 440.0, 2.0, -20.0))
    assert whole == SteadyNote(1.0, 5.02, 440.0, pytest.approx(np.sqrt(0.25 + 3.0)), pytest.approx(-20.0))
    assert continued(before, SteadyNote(2.2, 3.0, 440.0, 1.0, -20.0)) is None
    assert continued(before, SteadyNote(2.02, 3.0, 443.0, 1.0, -20.0)) is None


def test_one_long_note_is_one():
    sound = sounds.mixed(framed(sounds.tone(784.0, 61.0, 16000, seed=18), 16000), sounds.breath(62, 16000, 19), 15)
    note = only(heard(sound, 16000))
    assert note.end - note.start > 60.7
    assert abs(cents(note.frequency, 784.0)) < 0.1


def test_two_notes_of_the_same_pitch_are_two():
    pair = np.concatenate([sounds.tone(587.33, 0.6, seed=20), np.zeros(RATE // 20), sounds.tone(587.33, 0.6, seed=21)])
    assert len(heard(sounds.mixed(framed(pair), sounds.breath(3, seed=22), 25))) == 2
