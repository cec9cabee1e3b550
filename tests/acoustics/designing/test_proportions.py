import itertools

import pytest

from acoustics.blowing.voicing import voicing
from acoustics.designing.proportions import COMMON_PRACTICE, ROUND_NOSE_CUTTERS, suggest
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Body, Flue, Instrument, Window
from acoustics.model.air import PLAYED_FLUTE
from acoustics.notes.music import note_name


def test_every_size_comes_with_its_reason_and_source() -> None:
    found = suggest("A4")
    named = {s.name: s for s in found.reasons}
    assert named["bore"].value == found.bore
    assert named["wall"].value == found.wall
    assert named["window length"].value == found.window_length
    assert named["flue depth"].value == found.flue_depth
    assert len(named) == 11
    for suggestion in found.reasons:
        assert len(str(suggestion.reason)) > 20
        assert suggestion.source
        assert set(suggestion.to_json()) == {"name", "value", "reason", "source"}
    assert named["stub"].source == COMMON_PRACTICE
    assert "de la Cuadra" in named["window length"].source


def test_bores_are_cutters_and_shrink_as_keys_rise() -> None:
    bores = [suggest(note_name(midi)).bore for midi in range(55, 92)]
    assert set(bores) <= set(ROUND_NOSE_CUTTERS)
    assert all(low >= high for low, high in itertools.pairwise(bores))
    assert suggest("A4").bore == 19.05  # 3/4 inch: common practice, no published source


@pytest.mark.parametrize("midi", range(60, 85))
def test_length_to_bore_and_cut_up_to_flue_stay_within_what_is_usual(midi: int) -> None:
    found = suggest(note_name(midi))
    half_wave = 345e3 / (2 * 440 * 2 ** ((midi - 69) / 12))
    assert 14 < half_wave / found.bore < 27
    # Recorders near 4, organ pipes 8 to 15: Fletcher and Rossing (1998), from memory.
    assert 4 < found.window_length / found.flue_depth < 8
    assert found.flue_width < found.window_width < found.bore
    assert found.window_wall < found.wall


def test_a_bore_that_is_chosen_is_kept_and_the_rest_follows() -> None:
    narrow, wide = suggest("A4", bore=16.0), suggest("A4", bore=22.0)
    assert (narrow.bore, wide.bore) == (16.0, 22.0)
    assert narrow.window_width < wide.window_width
    assert narrow.wall < wide.wall
    assert suggest("A4", wall=4.0).window_wall == 3.0


def test_the_pressure_is_that_of_the_voicing_page() -> None:
    found = suggest("A4")
    reason = str(next(s for s in found.reasons if s.name == "window length").reason)
    flute = Instrument(
        bore=((-found.window_length - found.stub, found.bore), (330.0, found.bore)),
        body=Body("round", found.wall),
        window=Window(found.window_length, found.window_width, found.window_wall, found.edge_angle),
        flue=Flue(found.flue_depth, found.flue_width, found.flue_length),
    )
    (note,) = voicing(flute, PLAYED_FLUTE, [""]).notes
    # Quarter of a period: U = 10 f W, and p goes with the square but for the flue's friction.
    said = float(reason.split("about ")[1].split(" Pa")[0])
    assert said / note.settles == pytest.approx((440.0 / note.frequency) ** 1.85, rel=0.03)


def test_pressures_rise_with_the_key_as_players_know() -> None:
    """71 two-chamber flutes were played at 521 Pa, with a spread of 216 Pa (arXiv:1308.5214, abstract)."""
    pressures = []
    for key in ("F#4", "A4", "D5"):
        reason = str(next(s for s in suggest(key).reasons if s.name == "window length").reason)
        pressures.append(float(reason.split("about ")[1].split(" Pa")[0]))
    assert pressures == sorted(pressures)
    assert all(521 - 2 * 216 < pressure < 521 + 2 * 216 for pressure in pressures)


def test_what_is_no_key_is_refused() -> None:
    with pytest.raises(InvalidInput, match="key"):
        suggest("H4")
