import pytest
from hypothesis import given, strategies as st

from acoustics.errors import InvalidInput
from acoustics.notes import music


@pytest.mark.parametrize(
    ("name", "midi"),
    [
        ("A4", 69),
        ("a4", 69),
        ("C4", 60),
        ("F#4", 66),
        ("Gb4", 66),
        ("Bb4", 70),
        ("B♭4", 70),
        ("Cb5", 71),
        ("B#3", 60),
    ],
)
def test_note_names_are_read(name: str, midi: int) -> None:
    assert music.parse_note(name) == midi
    assert music.parse_note(f" {name} ") == midi  # blanks around a typed name are harmless


@pytest.mark.parametrize("name", ["", "H4", "A", "A##4", "4A", "A44", None, 69, "A9", "C0"])
def test_other_names_are_refused_by_field(name: object) -> None:
    with pytest.raises(InvalidInput) as caught:
        music.parse_note(name, "key")  # type: ignore[arg-type]
    assert caught.value.field == "key"


@given(st.integers(music.LOWEST_NOTE, music.HIGHEST_NOTE), st.booleans())
def test_names_round_trip(midi: int, flats: bool) -> None:
    assert music.parse_note(music.note_name(midi, flats=flats)) == midi


@given(st.integers(music.LOWEST_KEY, music.HIGHEST_KEY), st.booleans(), st.integers(0, 15))
def test_spelling_never_changes_the_note(midi: int, flats: bool, semitones: int) -> None:
    key = music.note_name(midi, flats=flats)
    assert music.parse_note(music.scale_note_name(key, semitones)) == midi + semitones


@pytest.mark.parametrize(
    ("key", "names"),
    [
        ("A4", "A4 C5 D5 E5 F#5 G5 A5"),
        ("C4", "C4 Eb4 F4 G4 A4 Bb4 C5"),
        ("F#4", "F#4 A4 B4 C#5 D#5 E5 F#5"),
        ("Bb4", "Bb4 Db5 Eb5 F5 G5 Ab5 Bb5"),
        ("B4", "B4 D5 E5 F#5 G#5 A5 B5"),
    ],
)
def test_minor_pentatonic_is_spelled_by_its_key(key: str, names: str) -> None:
    assert " ".join(t.note for t in music.targets(key)) == names


@pytest.mark.parametrize("scale", music.SCALES)
@pytest.mark.parametrize("holes", music.HOLE_COUNTS)
def test_charts_one_by_one_are_in_order_and_in_the_scale(scale: str, holes: int) -> None:
    notes = music.chart(scale, holes, third_hole_closed=False)
    steps = [n.semitones for n in notes]
    assert notes[0].fingering == "x" * holes
    assert steps == sorted(set(steps))
    assert all(s % 12 in music.SCALES[scale] for s in steps)
    assert len({n.fingering for n in notes}) == len(notes)
    for note in notes:
        assert len(note.fingering) == holes
        assert note.cross == music.is_cross(note.fingering)
    assert set(music.open_in_turn(holes)) <= {n.fingering for n in notes}


def test_the_usual_minor_pentatonic_keeps_the_third_hole_closed() -> None:
    # Common practice, no published source.
    notes = {n.semitones: n.fingering for n in music.chart("minor pentatonic", 6)}
    assert [s for s, f in notes.items() if f[2] == "x"] == [0, 3, 5, 7, 10, 12]
    assert notes[12] == "ooxooo"
    assert notes[9] == "xxoooo"
    assert music.chart("minor pentatonic", 6) == music.chart("minor pentatonic", 6, third_hole_closed=True)


@pytest.mark.parametrize("scale", music.SCALES)
def test_every_hole_opens_a_note_of_its_own(scale: str) -> None:
    for holes in music.HOLE_COUNTS:
        own = {n.fingering.find("o") for n in music.chart(scale, holes) if not n.cross}
        assert own == {-1, *range(holes)}


@pytest.mark.parametrize(
    ("scale", "holes", "third", "field"),
    [
        ("dorian", 6, False, "scale"),
        ("major", 7, False, "holes"),
        ("major", 6, True, "third_hole_closed"),
        ("minor pentatonic", 5, True, "third_hole_closed"),
    ],
)
def test_charts_that_do_not_exist_are_refused(scale: str, holes: int, third: bool, field: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        music.chart(scale, holes, third_hole_closed=third)
    assert caught.value.field == field


def test_just_targets_keep_the_key_and_widen_the_minor_third() -> None:
    equal = music.targets("A4")
    just = music.targets("A4", temperament="just")
    assert just[0].frequency == equal[0].frequency == 440.0
    assert just[1].frequency / 440.0 == pytest.approx(6 / 5, rel=1e-12)
    assert just[6].frequency / 440.0 == pytest.approx(2.0, rel=1e-12)


def test_own_cents_move_each_degree_in_every_octave() -> None:
    own = (0.0, 0.0, 0.0, 12.0, 0.0, -3.0, 0.0, 2.0, 0.0, 0.0, -31.0, 0.0)
    equal = music.targets("E5", third_hole_closed=False)
    moved = music.targets("E5", temperament=own, third_hole_closed=False)
    shifts = [music.cents(m.frequency, e.frequency) for m, e in zip(moved, equal, strict=True)]
    assert shifts == pytest.approx([0, 12, -3, 2, -31, 0, 12], abs=1e-9)


@pytest.mark.parametrize("bad", ["meantone", [0.0] * 11, [0.0] * 11 + [51.0], [float("nan")] * 12, ["a"] * 12, 3, True])
def test_other_temperaments_are_refused(bad: object) -> None:
    with pytest.raises(InvalidInput) as caught:
        music.parse_temperament(bad)
    assert caught.value.field.startswith("temperament")


@pytest.mark.parametrize("a4", [389, 471, float("nan"), float("inf"), True, "440"])
def test_other_pitch_standards_are_refused(a4: object) -> None:
    with pytest.raises(InvalidInput) as caught:
        music.targets("A4", a4=a4)  # type: ignore[arg-type]
    assert caught.value.field == "a4"


@pytest.mark.parametrize("key", ["F#3", "G#6", "X"])
def test_keys_no_flute_is_made_in_are_refused(key: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        music.targets(key)
    assert caught.value.field == "key"


def test_nearest_note() -> None:
    name, above = music.nearest_note(442.0)
    assert name == "A4"
    assert above == pytest.approx(7.851, abs=1e-3)
