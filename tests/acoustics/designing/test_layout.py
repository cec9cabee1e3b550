import numpy as np
import pytest

from acoustics.designing.layout import CENTS, PitchModel, layout_of, with_layout
from acoustics.designing.request import DesignRequest
from acoustics.notes.music import open_in_turn

LAYOUT = np.array([336.0, 120, 141, 162, 190, 220, 249, 7, 8, 8.5, 9, 9, 9])


def model() -> PitchModel:
    request = DesignRequest.from_json({"key": "A4"})
    return PitchModel(with_layout(request.blank(336.0), LAYOUT), open_in_turn(6), request.air)


def test_layouts_round_trip_through_flutes() -> None:
    flute = model().template
    assert layout_of(flute) == pytest.approx(LAYOUT)
    assert layout_of(with_layout(flute, LAYOUT + 1.0)) == pytest.approx(LAYOUT + 1.0)
    longer = with_layout(flute, LAYOUT + 1.0)
    assert longer.bore == (flute.bore[0], (337.0, 19.05))
    assert with_layout(longer, LAYOUT).bore == flute.bore


def test_following_agrees_with_searching() -> None:
    m = model()
    w = m.search(LAYOUT)
    moved = LAYOUT + 0.5
    assert m.follow(moved, w) == pytest.approx(m.search(moved), rel=1e-9)


def test_implicit_derivatives_agree_with_differences_of_the_resonances() -> None:
    m = model()
    w = m.search(LAYOUT)
    gradient = m.gradient(LAYOUT, w)
    _, quick = m.linearise(LAYOUT, w)
    for entry in range(len(LAYOUT)):
        step = np.zeros(len(LAYOUT))
        step[entry] = 0.01
        sharp, flat = m.follow(LAYOUT + step, w), m.follow(LAYOUT - step, w)
        expected = CENTS * np.log(sharp.real / flat.real) / 0.02
        assert gradient[..., entry] == pytest.approx(expected, abs=2e-5)
        assert quick[..., entry] == pytest.approx(expected, abs=2e-3)


def test_a_longer_flute_is_flatter_and_a_wider_hole_sharper() -> None:
    m = model()
    gradient = m.gradient(LAYOUT, m.search(LAYOUT))[:, 0]
    assert np.all(gradient[:, 0] < 0)
    for hole in range(6):
        assert np.all(gradient[6 - hole :, 7 + hole] > 0)


def test_a_resonance_that_got_lost_is_found_again() -> None:
    m = model()
    w = m.search(LAYOUT)
    found, _ = m.linearise(LAYOUT, w * 1.3)
    assert found == pytest.approx(w, rel=1e-8)
