import itertools
import math

import pytest

from acoustics.blowing.voicing import voicing
from acoustics.designing.design import DesignRequest, design
from acoustics.designing.proportions import COMMON_PRACTICE, ROUND_NOSE_CUTTERS, USUAL_BORES, head, suggest
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
    assert named["edge height"].value == found.edge_height
    assert named["planing depth"].value == pytest.approx(found.wall - found.window_wall)
    assert named["finger depth"].value == found.finger_depth
    assert len(named) == 19
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


@pytest.mark.parametrize("midi", range(55, 85))
def test_length_to_bore_and_cut_up_to_flue_stay_within_what_is_usual(midi: int) -> None:
    """From G3 to C6, the one range that reasons and warnings name."""
    found = suggest(note_name(midi))
    half_wave = 345e3 / (2 * 440 * 2 ** ((midi - 69) / 12))
    assert USUAL_BORES[0] <= half_wave / found.bore <= USUAL_BORES[1]
    bore = next(str(s.reason) for s in found.reasons if s.name == "bore")
    assert f"{USUAL_BORES[0]:.0f} to {USUAL_BORES[1]:.0f} is usual" in bore
    # Recorders near 4, organ pipes 8 to 15: Fletcher and Rossing (1998), from memory.
    assert 4 < found.window_length / found.flue_depth < 8
    assert found.flue_width < found.window_width < found.bore
    assert found.window_wall < found.wall


def test_a_bore_that_is_chosen_is_kept_and_the_rest_follows() -> None:
    narrow, wide = suggest("A4", bore=16.0), suggest("A4", bore=22.0)
    assert (narrow.bore, wide.bore) == (16.0, 22.0)
    assert narrow.window_width < wide.window_width
    assert narrow.wall < wide.wall
    assert suggest("A4", wall=4.0).window_wall >= 2.0


@pytest.mark.parametrize("midi", range(55, 85))
def test_the_block_can_seal_beside_the_flue(midi: int) -> None:
    """3 mm of land on either side (common practice): A3 had a flue of 15.4 on a flat of 14.7, C4 13.7 on 14.0.

    The flat's width is that of a chord: outer radius R, planed to R - depth above the axis.
    """
    found = suggest(note_name(midi))
    outer = 0.5 * found.bore + found.wall
    flat = 2.0 * math.sqrt(outer**2 - (0.5 * found.bore + found.window_wall) ** 2)
    assert found.flue_width + 2 * 3.0 <= flat + 0.1
    assert found.land == pytest.approx(0.5 * (flat - found.flue_width))
    assert found.window_wall >= 0.45 * found.wall
    assert found.block.width <= flat


@pytest.mark.parametrize("midi", range(55, 85))
def test_the_edge_is_level_with_the_floor_of_the_flue(midi: int) -> None:
    found = suggest(note_name(midi))
    assert found.edge_height == round(found.window_wall - found.flue_depth, 1)
    assert 1.0 < found.edge_height < 3.3


def test_a_square_body_needs_no_planing() -> None:
    found = suggest("A4", outside="flat")
    assert found.window_wall == found.wall
    assert found.land > 5.0
    assert found.block.width == pytest.approx(found.flue_width + 12.0)


def test_sizes_that_leave_no_room_narrow_the_flue_before_the_land_is_short() -> None:
    wide, narrow = head(19.05, 5.3, "round", 6.1, 24.0), head(19.05, 5.3, "round", 6.1, 24.0, 12.0, 3.6)
    assert narrow.flue_width < 0.87 * 12.0
    assert wide.land > narrow.land
    assert head(19.05, 5.3, "round", 6.1, 24.0, None, 5.3).seat == 0.0


def test_wider_bores_have_wider_octaves_as_the_reason_says() -> None:
    octaves = [
        design(DesignRequest.from_json({"key": "A4", "bore_diameter": d})).notes[0].octave_cents for d in (15, 23)
    ]
    assert octaves[0] < octaves[1]
    assert "octaves come out wider" in next(str(s.reason) for s in suggest("A4").reasons if s.name == "bore")


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
