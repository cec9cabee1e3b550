"""Pitches as they are typed."""

import pytest

from webapp.shop.units import pitches


@pytest.mark.parametrize(
    ("typed", "hertz"),
    [
        ("440", 440),
        ("437.2 Hz", 437.2),
        ("437,2", 437.2),
        # Equal temperament at A4 = 440 Hz (ISO 16:1975) and cents by definition: 1200 to the octave.
        ("A4", 440),
        ("a4 +0", 440),
        ("A4 -12", 440 * 2 ** (-12 / 1200)),
        ("A4 −12 cents", 440 * 2 ** (-12 / 1200)),
        ("F#4 +3", 369.9944 * 2 ** (3 / 1200)),
        ("Bb4-50", 466.1638 * 2 ** (-50 / 1200)),
        ("C5+7c", 523.2511 * 2 ** (7 / 1200)),
    ],
)
def test_what_a_meter_shows_is_understood(typed: str, hertz: float) -> None:
    assert pitches.parse_pitch(typed, 440.0) == pytest.approx(hertz, rel=1e-6)


def test_a_note_is_read_against_the_patterns_own_pitch_standard() -> None:
    assert pitches.parse_pitch("A4 -12", 432.0) == pytest.approx(432 * 2 ** (-12 / 1200))


@pytest.mark.parametrize(
    "typed", ["", "A", "H4", "A4 -120", "nan", "inf", "1e3", "-440", "20", "9999", "A9", "A4 12", "440 kHz"]
)
def test_what_is_no_pitch_is_refused_in_words(typed: str) -> None:
    with pytest.raises(ValueError, match=r"Write|Must lie|A meter shows"):
        pitches.parse_pitch(typed, 440.0)


@pytest.mark.parametrize(
    ("cents", "aim", "word"),
    [
        (0, 0, "in tune"),
        (5, 0, "in tune"),
        (-5, 0, "in tune"),
        (5.1, 0, "sharp"),
        (-12, 0, "flat"),
        (-8, -8, "in tune"),
        (0, -8, "sharp"),
    ],
)
def test_the_tolerance_decides_between_flat_in_tune_and_sharp(cents: float, aim: float, word: str) -> None:
    assert pitches.verdict(cents, 5.0, aim).word == word


@pytest.mark.parametrize(("off", "words"), [(0.2, "on it"), (-0.9, "1 cent flat"), (12.4, "12 cents sharp")])
def test_how_far_off_is_said_in_words(off: float, words: str) -> None:
    assert pitches.say(off) == words
