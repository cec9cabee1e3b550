from dataclasses import replace

import pytest

from acoustics.air import PLAYED_FLUTE
from acoustics.design import Design, DesignRequest, design
from acoustics.errors import InvalidInput
from acoustics.instrument import Instrument
from acoustics.music import cents, parse_note
from acoustics.other_keys import Becoming, offset, other_keys
from acoustics.resonance import Mode, predict


@pytest.fixture(scope="module")
def flute() -> Design:
    return design(DesignRequest.from_json({"key": "F#4"}))


@pytest.fixture(scope="module")
def blank(flute: Design) -> Instrument:
    return replace(flute.instrument, holes=())


def check(becoming: Becoming, blank: Instrument) -> None:
    """What is promised can be cut, and then plays in tune."""
    made = becoming.design.instrument
    assert made.foot_x <= blank.foot_x
    assert made.bore[0] == blank.bore[0]
    assert made.window == blank.window
    for new, old in zip(made.holes, blank.holes, strict=False):
        assert new.x == pytest.approx(old.x, abs=0.006)
        assert new.diameter >= old.diameter - 1e-6
    predicted = predict(made, PLAYED_FLUTE, [n.fingering for n in becoming.design.notes], modes=1)
    for note, prediction in zip(becoming.design.notes, predicted, strict=True):
        mode = prediction.modes[0]
        assert isinstance(mode, Mode)
        assert note.cross or abs(cents(mode.frequency, note.target)) < 5.0


def test_a_blank_without_holes_can_become_its_key_and_those_above(blank: Instrument) -> None:
    found = other_keys(blank, PLAYED_FLUTE)
    assert [b.key for b in found] == ["F#4", "G4", "G#4", "A4", "A#4", "B4", "C5", "C#5"]
    assert all(b.possible for b in found[:5])
    for becoming in found:
        if becoming.possible:
            check(becoming, blank)
    assert "drill hole 1" in " ".join(found[1].needs)
    assert found[1].needs[0].startswith("cut ")
    feet = [b.design.instrument.foot_x for b in found]
    assert feet == sorted(feet, reverse=True)


def test_a_sharp_reading_moves_every_key(blank: Instrument) -> None:
    mode = predict(blank, PLAYED_FLUTE, [""], modes=1)[0].modes[0]
    assert isinstance(mode, Mode)
    sharp = mode.frequency * 2 ** (30 / 1200)
    assert offset(blank, PLAYED_FLUTE, {"": sharp}) == pytest.approx(30.0, abs=1e-6)
    plain = {b.key: b.design.instrument.foot_x for b in other_keys(blank, PLAYED_FLUTE)}
    moved = {b.key: b for b in other_keys(blank, PLAYED_FLUTE, {"": sharp})}
    assert "F#4" not in moved  # the blank is already too short for it
    assert moved["G4"].design.instrument.foot_x > plain["G4"] + 3.0
    note = moved["G4"].design.notes[0]
    assert cents(note.frequency, note.target) == pytest.approx(note.cents, abs=1e-6)
    assert note.cents == pytest.approx(0.0, abs=1.0)


def test_a_drilled_flute_keeps_its_holes_where_they_are(flute: Design) -> None:
    small = flute.instrument.with_holes([replace(h, diameter=h.diameter - 1.0) for h in flute.instrument.holes])
    found = other_keys(small, PLAYED_FLUTE, scales=("minor pentatonic", "major"))
    own = next(b for b in found if (b.key, b.scale) == ("F#4", "minor pentatonic"))
    assert own.possible
    check(own, small)
    assert any(need.startswith("enlarge hole 1") for need in own.needs)
    other = next(b for b in found if (b.key, b.scale) == ("G4", "major"))
    assert not other.possible
    assert other.needs == ()
    assert any("cents" in lack for lack in other.lacks)
    assert parse_note(own.key) == 66


def test_holes_that_are_too_wide_already_are_told(flute: Design) -> None:
    holes = list(flute.instrument.holes)
    holes[2] = replace(holes[2], diameter=holes[2].diameter + 1.5)
    own = other_keys(flute.instrument.with_holes(holes), PLAYED_FLUTE)[0]
    assert own.key == "F#4"
    assert not own.possible
    assert any("sharp" in lack and "xxoooo" in lack for lack in own.lacks)


def test_what_does_not_fit_is_refused(flute: Design, blank: Instrument) -> None:
    with pytest.raises(InvalidInput, match=r"instrument\.holes"):
        other_keys(flute.instrument, PLAYED_FLUTE, holes=5)
    with pytest.raises(InvalidInput, match="scales"):
        other_keys(blank, PLAYED_FLUTE, scales=["dorian"])
    with pytest.raises(InvalidInput, match="readings"):
        other_keys(blank, PLAYED_FLUTE, {"": -3.0})
    with pytest.raises(InvalidInput, match="fingerings"):
        other_keys(blank, PLAYED_FLUTE, {"xx": 400.0})
