from dataclasses import replace

import pytest

from acoustics.designing.design import Design, DesignRequest, design
from acoustics.designing.limits import default_limits
from acoustics.designing.other_keys import Becoming, offset, other_keys
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.model.air import PLAYED_FLUTE
from acoustics.model.resonance import Mode, predict
from acoustics.notes.music import cents, parse_note


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
    assert "drill hole 1" in " ".join(map(str, found[1].needs))
    assert str(found[1].needs[0]).startswith("cut ")
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
    assert any(str(need).startswith("open hole 1") for need in own.needs)
    other = next(b for b in found if (b.key, b.scale) == ("G4", "major"))
    assert not other.possible
    assert other.needs == ()
    assert any("cents" in str(lack) for lack in other.lacks)
    assert parse_note(own.key) == 66


def test_holes_that_are_too_wide_already_are_told(flute: Design) -> None:
    holes = list(flute.instrument.holes)
    holes[2] = replace(holes[2], diameter=holes[2].diameter + 1.5)
    own = other_keys(flute.instrument.with_holes(holes), PLAYED_FLUTE)[0]
    assert own.key == "F#4"
    assert not own.possible
    assert any("sharp" in str(lack) and "xxoooo" in str(lack) for lack in own.lacks)


def test_holes_still_to_drill_find_their_places_beside_those_that_are(flute: Design) -> None:
    """From the foot up, as they are drilled: three are there, three are only marked, and marked in the wrong places."""
    holes = [replace(h, x=h.x - 6.0, diameter=1.0) for h in flute.instrument.holes[:3]]
    holes += [replace(h, diameter=h.diameter - 1.0) for h in flute.instrument.holes[3:]]
    half = flute.instrument.with_holes(holes)
    heard = predict(half.with_holes(holes[3:]), PLAYED_FLUTE, ["xxx"], modes=1)[0].modes[0]
    assert isinstance(heard, Mode)
    found = other_keys(half, PLAYED_FLUTE, {"xxx": heard.frequency}, marked=(1, 2, 3))
    own = next(b for b in found if b.key == "F#4")
    assert own.possible
    check(own, half.with_holes([]))
    for new, old in zip(own.design.instrument.holes[3:], holes[3:], strict=True):
        assert new.x == pytest.approx(old.x, abs=0.006)
        assert new.diameter >= old.diameter - 1e-6
    needs = [str(need) for need in own.needs]
    assert [n for n in needs if n.startswith("drill")] == [
        n for n in needs if n.startswith(("drill hole 1", "drill hole 2", "drill hole 3"))
    ]
    assert any(n.startswith("open hole 6") for n in needs)


def test_what_was_started_smaller_than_a_hole_may_be_can_still_grow(flute: Design) -> None:
    tiny = flute.instrument.with_holes([replace(h, diameter=3.0) for h in flute.instrument.holes])
    own = next(b for b in other_keys(tiny, PLAYED_FLUTE) if b.key == "F#4")
    assert own.possible
    check(own, tiny)


@pytest.mark.parametrize("marked", [(), (1, 2)])
def test_what_went_beyond_a_limit_is_named_and_nothing_breaks(flute: Design, marked: tuple[int, ...]) -> None:
    holes = list(flute.instrument.holes)
    holes[3] = replace(holes[3], diameter=14.0)
    holes[4] = replace(holes[4], x=holes[3].x + 13.5)
    wide = flute.instrument.with_holes(holes)
    for becoming in other_keys(wide, PLAYED_FLUTE, marked=marked, scales=("minor pentatonic", "major")):
        lacks = [str(lack) for lack in becoming.lacks]
        assert not becoming.possible
        assert any("diameter of hole 4 is already 14 mm, more than the" in lack for lack in lacks)
        assert any("wood between holes 4 and 5" in lack for lack in lacks)


def test_a_blank_too_short_for_any_holes_says_so(blank: Instrument) -> None:
    short = replace(blank, bore=(blank.bore[0], (70.0, blank.bore[-1][1])))
    limits = replace(default_limits(440.0, 19.05), diameter=(9.0, 10.0))
    for becoming in other_keys(short, PLAYED_FLUTE, limits=limits):
        assert not becoming.possible
        assert becoming.to_json()["lacks"]


def test_what_does_not_fit_is_refused(flute: Design, blank: Instrument) -> None:
    with pytest.raises(InvalidInput, match=r"instrument\.holes"):
        other_keys(flute.instrument, PLAYED_FLUTE, holes=5)
    with pytest.raises(InvalidInput, match="scales"):
        other_keys(blank, PLAYED_FLUTE, scales=["dorian"])
    with pytest.raises(InvalidInput, match="readings"):
        other_keys(blank, PLAYED_FLUTE, {"": -3.0})
    with pytest.raises(InvalidInput, match="marked"):
        other_keys(flute.instrument, PLAYED_FLUTE, marked=(7,))
    with pytest.raises(InvalidInput, match="fingerings"):
        other_keys(blank, PLAYED_FLUTE, {"xx": 400.0})
