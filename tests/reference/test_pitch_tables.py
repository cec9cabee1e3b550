"""Frequencies and intervals against published values."""

import pytest

from acoustics.notes import music

# ISO 16:1975 fixes A4 at 440 Hz. The other rows: table of the equal-tempered scale in Rossing, Moore and
# Wheeler, The Science of Sound (2002), from memory. MIDI 1.0 numbers the same notes 60 to 88.
EQUAL_TEMPERED = {
    "C4": 261.626, "C#4": 277.183, "D4": 293.665, "D#4": 311.127, "E4": 329.628, "F4": 349.228,
    "F#4": 369.994, "G4": 391.995, "G#4": 415.305, "A4": 440.000, "A#4": 466.164, "B4": 493.883,
    "C5": 523.251, "E5": 659.255, "A5": 880.000, "C6": 1046.502, "D#6": 1244.508,
}  # fmt: skip

# Cents of just intervals: Ellis in Helmholtz, On the Sensations of Tone (1885), appendix XX D, from memory.
JUST_CENTS = {
    1: 111.731, 2: 203.910, 3: 315.641, 4: 386.314, 5: 498.045, 6: 590.224, 7: 701.955, 8: 813.686,
    9: 884.359, 10: 1017.596, 11: 1088.269, 12: 1200.0, 15: 1515.641,
}  # fmt: skip

SYNTONIC_COMMA = 21.506  # 81/80, same source


@pytest.mark.parametrize(("name", "published"), EQUAL_TEMPERED.items())
def test_equal_temperament(name: str, published: float) -> None:
    assert music.frequency(music.parse_note(name)) == pytest.approx(published, abs=6e-4)


@pytest.mark.parametrize(("semitones", "published"), JUST_CENTS.items())
def test_just_intervals(semitones: int, published: float) -> None:
    assert music.interval_cents(semitones, "just") == pytest.approx(published, abs=6e-4)


def test_four_pure_fifths_exceed_two_octaves_and_a_pure_third_by_the_syntonic_comma() -> None:
    fifth = music.interval_cents(7, "just")
    third = music.interval_cents(4, "just")
    assert 4 * fifth - 2400 - third == pytest.approx(SYNTONIC_COMMA, abs=6e-4)


def test_baroque_pitch_is_a_semitone_low() -> None:
    # Common practice, no published source: A4 = 415 Hz stands a semitone under 440 Hz, within 1.3 cents.
    assert music.cents(music.frequency(69, 415.0), music.frequency(68)) == pytest.approx(0.0, abs=1.3)
