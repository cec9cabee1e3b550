"""The corrected model beneath the advice: rates, the window's length, and which size a note has to itself."""

import numpy as np
import pytest

from acoustics.belief.sounding import first_resonances, level, respond
from acoustics.errors import InvalidInput
from acoustics.flute.geometry import Geometry
from acoustics.model.air import PLAYED_FLUTE
from acoustics.model.head import Head
from acoustics.model.implicit import CENTS
from acoustics.model.resonance import resonances
from acoustics.notes.charts import SCALES, chart
from acoustics.tuning.aims import controls_of, owners, thinner, with_controls
from tests.load.tuning_bench import Task

A4 = Task.of("A4")
NEAR = A4.targets


def cents(shape: np.ndarray, controls: np.ndarray) -> np.ndarray:
    flute = with_controls(A4.flute, controls)
    w = first_resonances(flute, PLAYED_FLUTE, A4.fingerings, shape, NEAR)
    return CENTS * np.log(w.real / (2.0 * np.pi * NEAR))


def test_rates_agree_with_differences_of_the_resonances() -> None:
    shape, controls = np.array([0.2, 0.004, -0.03]), controls_of(A4.flute)
    w = first_resonances(A4.flute, PLAYED_FLUTE, A4.fingerings, shape, NEAR)
    rates = respond([A4.flute], PLAYED_FLUTE, A4.fingerings, shape, w[None]).rates[0]
    for i, step in enumerate((0.01, 0.001, 0.002)):
        move = step * np.eye(3)[i]
        expected = (cents(shape + move, controls) - cents(shape - move, controls)) / (2.0 * step)
        assert rates[:, i] == pytest.approx(expected, rel=2e-3, abs=0.2)
    for i in range(len(controls)):
        move = 0.05 * np.eye(len(controls))[i]
        expected = (cents(shape, controls + move) - cents(shape, controls - move)) / 0.1
        assert rates[:, 3 + i] == pytest.approx(expected, rel=2e-3, abs=0.02)


def test_a_longer_window_correction_flattens_as_a_longer_pipe_does() -> None:
    """With all holes closed the flute is half a wave long (source in test_resonance): a longer pipe costs its share of
    c / (2 f).

    What is added to a window of length L as inertance acts as arctan(k L) / k does: 1 / (1 + (k L)^2) of it.
    """
    controls = controls_of(A4.flute)
    fall = cents(np.array([0.1, 0.0, 0.0]), controls) - cents(np.zeros(3), controls)
    radius = 0.5e-3 * A4.flute.bore_diameter(0.0)
    half_wave = PLAYED_FLUTE.speed_of_sound / (2.0 * NEAR[0])
    window = Head(Geometry.of([A4.flute]), np.array([radius])).inertance[0] * np.pi * radius**2
    share = 1.0 / (1.0 + (np.pi / half_wave * window) ** 2)
    assert fall[0] == pytest.approx(-CENTS * 0.1 * radius * share / half_wave, rel=0.08)
    # Holes opened in turn end a shorter and shorter pipe: the same length is a larger share of it.
    in_turn = ["ox" not in fingering for fingering in A4.fingerings]
    assert sum(in_turn) >= 4
    assert np.all(np.diff(fall[in_turn]) < 0.0)


def test_no_correction_is_the_plain_model() -> None:
    from acoustics.model.resonance import Mode, predict

    modes = [note.modes[0] for note in predict(A4.flute, PLAYED_FLUTE, A4.fingerings, modes=1)]
    plain = [mode.frequency for mode in modes if isinstance(mode, Mode)]
    found = first_resonances(A4.flute, PLAYED_FLUTE, A4.fingerings, np.zeros(3), NEAR).real / (2.0 * np.pi)
    assert found == pytest.approx(plain, rel=2e-6)


def test_the_first_register_is_found_from_a_guess_an_octave_off() -> None:
    for factor in (0.55, 1.9):
        found = first_resonances(A4.flute, PLAYED_FLUTE, A4.fingerings, np.zeros(3), factor * NEAR)
        assert found.real / (2.0 * np.pi) == pytest.approx(NEAR, rel=1e-3)


def test_a_resonance_far_from_the_guess_is_settled_on() -> None:
    """Beside the search of `acoustics.model.resonance`, another method: no flute between long and short is missed."""
    task = Task.of("E5")
    sizes = controls_of(task.flute)
    sizes[1:] *= 0.7
    lengths = sizes[0] + np.linspace(0.0, 10.0, 60)
    flutes = [with_controls(task.flute, np.array([foot, *sizes[1:]])) for foot in lengths]
    sure = resonances(Geometry.of(flutes), PLAYED_FLUTE, task.fingerings, modes=1).frequency[..., 0]
    for flute, expected in zip(flutes, sure, strict=True):
        w = first_resonances(flute, PLAYED_FLUTE, task.fingerings, np.zeros(3), task.targets)
        assert w.real / (2.0 * np.pi) == pytest.approx(expected, rel=2e-5)


def test_points_on_the_bore_are_added_without_changing_it() -> None:
    tapered = with_controls(A4.flute, controls_of(A4.flute))
    bent = type(tapered)(
        ((-9.0, 19.0), (120.0, 19.0), (336.0, 18.0)), tapered.body, tapered.window, tapered.holes, tapered.foot_holes
    )
    one, two = level([tapered, bent])
    assert len(one.bore) == len(two.bore) == 3
    for x in (-5.0, 50.0, 200.0, 330.0):
        assert one.bore_diameter(x) == pytest.approx(tapered.bore_diameter(x))


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("holes", [5, 6])
def test_every_size_has_a_note_to_itself(scale: str, holes: int) -> None:
    notes = chart(scale, holes)
    found = owners([note.fingering for note in notes], holes)
    assert sorted(found) == list(range(holes + 1))
    assert all(not notes[note].cross for note in found.values())


def test_a_wall_cannot_be_turned_to_nothing() -> None:
    with pytest.raises(InvalidInput) as refused:
        thinner(A4.flute, A4.flute.body.wall)
    assert refused.value.field == "shop.finishing.wall"
