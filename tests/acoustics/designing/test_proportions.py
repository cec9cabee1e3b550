import itertools

import pytest

from acoustics.designing.proportions import COMMON_PRACTICE, ROUND_NOSE_CUTTERS, ising_pressure, suggest
from acoustics.errors import InvalidInput
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
    assert "Ising" in named["window length"].source


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


def test_isings_number_by_hand() -> None:
    # f 440 Hz, cut-up 4 mm, flue 1 mm, density 1.2: 30 Pa at 2 and 67 Pa at 3, worked by hand from the formula.
    assert ising_pressure(2.0, 440.0, 4.0, 1.0, 1.2) == pytest.approx(29.7, abs=0.1)
    assert ising_pressure(3.0, 440.0, 4.0, 1.0, 1.2) == pytest.approx(66.9, abs=0.1)


def test_pressures_rise_with_the_key_as_players_know() -> None:
    # Recorders: some 50 to 200 Pa for low notes, 300 to 800 Pa for high ones (from memory).
    def pressure(key: str) -> float:
        found = suggest(key)
        frequency = {"C4": 261.6, "A4": 440.0, "C6": 1046.5}[key]
        return ising_pressure(2.5, frequency, found.window_length, found.flue_depth)

    assert 30 < pressure("C4") < pressure("A4") < pressure("C6") < 800


def test_what_is_no_key_is_refused() -> None:
    with pytest.raises(InvalidInput, match="key"):
        suggest("H4")
