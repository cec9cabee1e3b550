"""Swells made here: a note that rises in pitch with its breath, jumps to its octave, and comes back."""

import json

import numpy as np
import pytest

from acoustics.errors import InvalidInput
from acoustics.listening.command import command
from acoustics.listening.gauge import Gauge
from acoustics.listening.strongest import followed
from acoustics.listening.swells import swells
from acoustics.notes.music import cents
from tests.acoustics.listening import recordings, sounds

RATE = 48000
PER_DOUBLING = 45.0
JUMP_AT, FALL_AT, LOWEST_PA = 200.0, 150.0, 50.0


def blown(note=587.33, upper=1.985, trace_db=-20.0, top=320.0, seconds=5.0, seed=0):
    """Sound and pressure of one swell. At JUMP_AT the note stands `note` Hz; above, its second register sounds."""
    t = np.arange(round(seconds * RATE)) / RATE
    pressure = LOWEST_PA + (top - LOWEST_PA) * np.sin(np.pi * t / seconds)
    over = np.zeros(len(t), bool)
    first = np.argmax(pressure > JUMP_AT)
    if pressure.max() > JUMP_AT:
        last = len(t) - np.argmax(pressure[::-1] > FALL_AT)
        over[first:last] = True
    pitch = note * 2 ** (PER_DOUBLING * np.log2(pressure / JUMP_AT) / 1200)
    high = upper * note * 2 ** (25.0 * np.log2(pressure / JUMP_AT) / 1200)
    low_phase, high_phase = (2 * np.pi * np.cumsum(f) / RATE for f in (pitch, high))
    lower = np.sin(low_phase) + 0.3 * np.sin(2 * low_phase + 1)
    weak = 10 ** (trace_db / 20)
    raised = np.sin(high_phase) + weak * np.sin(0.5 * high_phase + 2) + 0.2 * np.sin(2 * high_phase)
    loud = np.clip(pressure / 120, 0, 1) ** 1.5 * np.minimum(1, np.minimum(t, seconds - t) / 0.05)
    return loud * np.where(over, raised, lower), pressure, over


def found(sound, gauge=None, seed=1):
    silence = np.zeros(RATE // 2)
    sound = np.concatenate([silence, sound, silence])
    noisy = sounds.mixed(sound, sounds.breath(len(sound) / RATE, seed=seed), 25)
    return swells(followed([noisy], RATE), gauge)


def test_pitch_before_and_after_the_jump_and_before_the_fall():
    sound, pressure, over = blown()
    heard = found(sound)
    (one,) = heard.found
    assert heard.remarks == ()
    assert one.note == "D5"
    assert abs(cents(one.before_jump.frequency, 587.33)) < 2.0
    last = pressure[np.flatnonzero(over)[-1]]
    assert abs(cents(one.after_jump.frequency, 1.985 * 587.33)) < 3.0
    assert one.before_fall is not None
    assert abs(cents(one.before_fall.frequency, 1.985 * 587.33 * 2 ** (25 * np.log2(last / JUMP_AT) / 1200))) < 3.0
    assert one.cents_per_doubling is None
    for pitch in (one.before_jump, one.after_jump, one.before_fall):
        assert 0 < pitch.sd_cents < 3.0


def test_repeats_agree_within_their_stated_spread():
    """Measured on a blown flute: 2.7 cents from swell to swell; here nothing but noise moves it."""
    heard = [found(blown(seconds=4 + 0.5 * n)[0], seed=n).found[0].before_jump for n in range(4)]
    off = [cents(pitch.frequency, 587.33) for pitch in heard]
    assert np.std(off) < 1.5
    assert all(abs(one) < 4 * pitch.sd_cents + 1.0 for one, pitch in zip(off, heard, strict=True))


def test_what_a_breath_is_worth_where_a_gauge_is_read():
    sound, pressure, _ = blown()
    every = RATE // 20
    times = 0.5 + np.arange(len(pressure))[::every] / RATE
    rest = np.array([0.0, 0.49]), np.array([0.0, 0.0])
    gauge = Gauge.of(np.concatenate([rest[0], times, [5.51, 6.0]]),
                     np.concatenate([rest[1], pressure[::every], [0.0, 0.0]]), 6.0)  # fmt: skip
    (one,) = found(sound, gauge).found
    assert one.cents_per_doubling == pytest.approx(PER_DOUBLING, abs=3.0)


def test_several_notes_in_one_recording():
    pause = np.zeros(RATE)
    sound = np.concatenate([blown(587.33)[0], pause, blown(698.46)[0], pause, blown(880.0)[0]])
    heard = found(sound)
    assert [one.note for one in heard.found] == ["D5", "F5", "A5"]


def test_a_swell_that_never_jumps_is_said():
    heard = found(blown(top=150.0)[0])
    assert heard.found == ()
    assert "No note jumps" in heard.remarks[0]


def test_a_jump_in_the_middle_of_a_scale_is_said_and_is_no_swell():
    t = np.arange(RATE) / RATE
    tune = np.concatenate([np.sin(2 * np.pi * f * t) for f in (440.0, 523.25, 587.33, 1170.0, 1310.0)])
    heard = found(tune)
    assert heard.found == ()
    assert "middle of a scale" in heard.remarks[0]


def test_a_swell_that_does_not_come_back_keeps_what_lies_before():
    sound, _, over = blown()
    heard = found(sound[: np.flatnonzero(over)[-1] - RATE // 4])
    (one,) = heard.found
    assert one.before_fall is None
    assert abs(cents(one.before_jump.frequency, 587.33)) < 2.0
    assert "did not fall back" in heard.remarks[0]


def test_silence_and_noise():
    assert "No note sounds" in swells(followed([np.zeros(RATE)], RATE)).remarks[0]
    assert swells(followed([0.1 * sounds.white(3)], RATE)).found == ()
    assert swells(followed([np.zeros(0)], RATE)).found == ()


@pytest.mark.parametrize(
    ("times", "pressures", "says"),
    [
        ([0, 5], [0.0, 0.32], "1 kPa is 1000 Pa"),  # kPa taken for Pa
        ([0, 5], [0.0, 32000.0], "must be in Pa"),
        ([0, 5000], [0.0, 320.0], "seconds"),
        ([5, 0], [0.0, 320.0], "rise"),
        ([0, 1], [0.0, 320.0], "reach over"),
        ([0], [320.0], "two rows"),
        ([0, 5], [0.0, float("nan")], "numbers"),
    ],
)
def test_a_gauge_that_cannot_be_right_is_refused(times, pressures, says):
    with pytest.raises(InvalidInput, match=says):
        Gauge.of(np.array(times, float), np.array(pressures, float), 6.0)


def test_from_the_command_line(tmp_path, capsys):
    sound, pressure, _ = blown(seconds=4)
    file = recordings.write(tmp_path / "swell.wav", 0.3 * sound)
    table = tmp_path / "gauge.csv"
    rows = [(n / 20, p) for n, p in enumerate(pressure[:: RATE // 20])]
    table.write_text("seconds,Pa\n" + "".join(f"{s:.3f},{p:.1f}\n" for s, p in rows))
    answer = command([str(file), "--swell", "--pressures", str(table)])
    json.dumps(answer, allow_nan=False)
    (one,) = answer["swells"]
    assert set(one) == {"note", "before_jump", "after_jump", "before_fall", "cents_per_doubling"}
    assert set(one["before_jump"]) == {"frequency", "sd_cents"}
    assert one["cents_per_doubling"] == pytest.approx(PER_DOUBLING, abs=4.0)
    assert command([str(file), "--swell", "--expect", "A4"])["swells"] == []
    assert "swells" not in command([str(file)])
    table.write_text("seconds,Pa\n0,1\nx,y\n")
    with pytest.raises(InvalidInput, match="seconds,Pa"):
        command([str(file), "--swell", "--pressures", str(table)])
    with pytest.raises(InvalidInput, match="listen"):
        command([str(file), "--pressures", str(table)])
