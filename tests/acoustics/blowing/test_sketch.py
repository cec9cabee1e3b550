"""The sketch in sound: its pitch, measured by `listen`, is that of `sound`; it jumps and falls where the model does."""

import json

import numpy as np
import pytest

from acoustics.blowing import sketch
from acoustics.blowing.sounding import soundings
from acoustics.listening.notes import Listener
from acoustics.listening.strongest import followed
from acoustics.listening.swells import swells
from acoustics.model.air import PLAYED_FLUTE
from acoustics.notes.music import cents
from tests.acoustics.blowing.test_voicing import CHART, FLUTE


def heard(samples):
    listener = Listener(sketch.RATE)
    listener.feed(samples.astype(np.float32) / 32768)
    return listener.finish()


@pytest.mark.parametrize("pressure", [350.0, 521.0, 850.0, 1400.0])
def test_pitch_is_that_of_sound(pressure):
    notes = soundings(FLUTE, PLAYED_FLUTE, CHART)
    found = heard(sketch.play([(note, sketch.steady(pressure)) for note in notes]))
    tones = [note.tone(pressure) for note in notes]
    assert len(found) == len(tones)
    for note, tone in zip(found, tones, strict=True):
        assert abs(cents(note.frequency, tone.frequency)) < 1.0


def test_below_its_start_nothing_speaks():
    note = soundings(FLUTE, PLAYED_FLUTE, CHART)[0]
    assert heard(sketch.play([(note, sketch.steady(0.9 * note.speaks_at))])) == ()


def test_a_swell_jumps_and_falls_where_the_model_does():
    note = soundings(FLUTE, PLAYED_FLUTE, CHART)[0]
    samples = sketch.play([(note, sketch.swell(note))])
    (one,) = swells(followed([samples.astype(np.float32) / 32768], sketch.RATE)).found
    assert abs(cents(one.before_jump.frequency, note.registers[1].frequency(note.overblows_at))) < 3.0
    assert abs(cents(one.after_jump.frequency, note.registers[2].frequency(note.overblows_at))) < 3.0
    assert abs(cents(one.before_fall.frequency, note.registers[2].frequency(note.falls_back_at))) < 3.0


def test_the_browsers_document_holds_the_models_own_points():
    for note in soundings(FLUTE, PLAYED_FLUTE, CHART):
        document = json.loads(json.dumps(sketch.document(note), allow_nan=False))
        for one in document["registers"]:
            register = note.registers[one["number"]]
            middle = float(np.exp(np.mean(register.log_pressure)))
            own = one["passive"] * 2 ** (np.interp(np.log(middle), one["log"], one["cents"]) / 1200)
            assert abs(cents(own, register.frequency(middle))) < 0.02
