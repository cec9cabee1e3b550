import json
import subprocess
import sys
from typing import Any

import numpy as np
import pytest

from acoustics.designing.design import Design, DesignRequest, design
from acoustics.designing.layout import layout_of
from acoustics.designing.limits import bounds
from acoustics.errors import CannotMeet, InvalidInput
from acoustics.flute.instrument import Finger, Instrument
from acoustics.model.resonance import Mode, predict
from acoustics.notes.music import SCALES, cents, note_name


def designed(**document: Any) -> tuple[DesignRequest, Design]:
    request = DesignRequest.from_json(document)
    return request, design(request)


@pytest.mark.parametrize("midi", range(55, 85))
def test_a_key_alone_gives_a_flute_in_tune(midi: int) -> None:
    request, flute = designed(key=note_name(midi))
    own = [n for n in flute.notes if not n.cross]
    assert len(own) == 7
    assert max(abs(n.cents) for n in own) < 0.6
    layout = layout_of(flute.instrument)
    for bound in bounds(request.limits, request.holes):
        assert bound.row @ layout >= bound.least - 0.011, bound.text()


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("holes", [5, 6])
@pytest.mark.parametrize("key", ["C4", "G4", "E5"])
def test_every_scale_and_hole_count_has_a_flute(scale: str, holes: int, key: str) -> None:
    _, flute = designed(key=key, scale=scale, holes=holes)
    assert max(abs(n.cents) for n in flute.notes if not n.cross) < 0.6
    assert max((abs(n.cents) for n in flute.notes if n.cross), default=0) < 75


def test_the_notes_are_those_of_the_flute() -> None:
    request, flute = designed(key="G4", temperament="just", a4=432)
    prediction = predict(flute.instrument, request.air, [n.fingering for n in flute.notes])
    for note, found in zip(flute.notes, prediction, strict=True):
        mode, octave = found.modes
        assert isinstance(mode, Mode)
        assert isinstance(octave, Mode)
        assert note.frequency == pytest.approx(mode.frequency, rel=1e-6)
        assert note.cents == pytest.approx(cents(mode.frequency, note.target), abs=1e-2)
        assert note.octave_cents == pytest.approx(cents(octave.frequency, 2 * note.target), abs=1e-2)
    assert flute.notes[3].target / flute.notes[0].target == pytest.approx(1.5)


def test_holes_are_made_by_the_shops_drills() -> None:
    inches = [25.4 * n / 64 for n in range(12, 33)]
    _, flute = designed(key="A4", drills=inches)
    for hole in flute.instrument.holes:
        assert min(abs(hole.diameter - d) for d in inches) < 1e-9
    assert max(abs(n.cents) for n in flute.notes) < 0.6


def test_one_drill_is_enough_where_the_hand_allows_it() -> None:
    _, flute = designed(key="A4", drills=[8.0], holes=5, limits={"spacing": [15, 36]})
    assert {h.diameter for h in flute.instrument.holes} == {8.0}
    assert max(abs(n.cents) for n in flute.notes) < 0.6


def test_any_diameter_where_no_drills_are_asked_for() -> None:
    _, flute = designed(key="A4", drills=None)
    assert max(abs(n.cents) for n in flute.notes) < 0.2


def test_the_same_request_gives_the_same_flute() -> None:
    assert designed(key="D5")[1] == designed(key="D5")[1]


def test_a_spelled_key_gives_the_same_flute_under_its_own_names() -> None:
    sharp, flat = designed(key="A#4")[1], designed(key="Bb4")[1]
    assert sharp.instrument == flat.instrument
    assert [n.note for n in flat.notes][:2] == ["Bb4", "Db5"]


def test_holes_one_by_one_reach_a_third_above_the_octave() -> None:
    _, flute = designed(key="A4", third_hole_closed=False)
    assert flute.notes[-1].fingering == "oooooo"
    assert flute.notes[-1].note == "C6"
    assert max(abs(n.cents) for n in flute.notes) < 0.6


def test_weight_on_the_second_register_brings_the_octaves_nearer() -> None:
    def stray(weight: float) -> float:
        _, flute = designed(key="G4", second_register_weight=weight, drills=None)
        octaves = [n.octave_cents or 0.0 for n in flute.notes[:4]]
        return float(np.sqrt(np.mean(np.square(octaves))))

    assert stray(3.0) < 0.9 * stray(0.0)


def test_warmer_air_makes_a_longer_flute() -> None:
    cold = designed(key="A4", air={"temperature": 18})[1].instrument
    warm = designed(key="A4", air={"temperature": 28})[1].instrument
    assert warm.foot_x > cold.foot_x + 3.0


def test_a_reach_that_binds_is_kept_and_named() -> None:
    usual = [h.x for h in designed(key="D4", drills=None)[1].instrument.holes]
    reach = round(usual[-1] - usual[0] - 12.0)
    _, flute = designed(key="D4", limits={"reach": reach}, drills=None)
    xs = [h.x for h in flute.instrument.holes]
    assert round(xs[-1] - xs[0], 2) <= reach
    assert f"reach from hole 1 to hole 6: at most {reach} mm" in map(str, flute.limits)
    assert max(abs(n.cents) for n in flute.notes) < 1.0


def test_what_cannot_be_comes_back_in_tune_with_what_had_to_give() -> None:
    request = DesignRequest.from_json({"key": "D4", "limits": {"reach": 90, "spacing": [15, 20]}})
    with pytest.raises(CannotMeet) as caught:
        design(request)
    nearest = caught.value.nearest
    assert isinstance(nearest, Design)
    gave = [str(line) for line in caught.value.gave]
    assert any("reach from hole 1 to hole 6" in line and "limit of 90 mm" in line for line in gave)
    inches = caught.value.gave[0].text(lambda mm: f"{mm / 25.4:.3f} in")
    assert inches == "spacing of holes 1 and 2 is 1.109 in, beyond its limit of 0.787 in"
    assert max(abs(n.cents) for n in nearest.notes) < 3.0
    usual = designed(key="D4")[1].instrument.holes
    holes = nearest.instrument.holes
    assert holes[-1].x - holes[0].x < 0.8 * (usual[-1].x - usual[0].x)


def test_an_oblique_request_warns() -> None:
    _, flute = designed(key="C5", bore_diameter=24.0)
    assert any("short and wide" in str(w) for w in flute.warnings)
    assert any("sharp of a true octave" in str(w) for w in flute.warnings)
    _, flute = designed(key="C4", scale="chromatic")
    assert any("cross fingering" in str(w) for w in flute.warnings)


def test_what_tires_or_sounds_weak_is_said_in_plain_words() -> None:
    """A 28 mm bore with 6.4 mm holes drew no warning, nor did 0.41 litres of breath a second."""
    request = {"key": "D4", "bore_diameter": 28.0, "limits": {"diameter": [5, 8], "spacing": [12, 44]}, "drills": None}
    with pytest.raises(CannotMeet) as caught:
        designed(**request)
    said = " ".join(map(str, caught.value.nearest.warnings))
    assert "of the bore: its note will be weak and stuffy" in said
    wide = " ".join(map(str, designed(key="A4", bore_diameter=26.0)[1].warnings))
    assert "litres of air a second" in wide
    low = " ".join(map(str, designed(key="G3")[1].warnings))
    assert "from the mouth end: too far for most arms" in low


def test_short_land_beside_the_flue_warns() -> None:
    _, flute = designed(key="A4", window={"wall": 4.6})
    assert any("the block seals on" in str(w) for w in flute.warnings)
    _, flute = designed(key="A4", window={"wall": 5.3})
    assert any("no flat to seal on" in str(w) for w in flute.warnings)
    assert not designed(key="A4")[1].warnings


@pytest.mark.parametrize("key", ["A3", "C4", "A4", "C6"])
def test_a_design_has_its_whole_head_and_is_in_tune_with_it(key: str) -> None:
    request, flute = designed(key=key)
    made = flute.instrument
    assert made.flue is not None and made.seat_width is not None
    assert made.window.edge_height == round(made.window_wall - made.flue.depth, 1)
    assert made.block is not None and made.block.width <= made.seat_width
    assert made.finger == Finger(1.0)
    notes = predict(Instrument.from_json(made.to_json()), request.air, [n.fingering for n in flute.notes], 1)
    for note, target in zip(notes, request.targets(), strict=True):
        if not target.cross:
            assert abs(1200 * np.log2(note.modes[0].frequency / target.frequency)) < 1.0


def test_a_design_may_be_asked_for_without_block_or_fingers() -> None:
    _, flute = designed(key="A4", block=None, finger=None, window={"edge_height": 0.0})
    assert (flute.instrument.block, flute.instrument.finger) == (None, None)
    assert flute.instrument.foot_x > designed(key="A4")[1].instrument.foot_x + 5.0


def test_an_edge_above_the_wall_is_refused_in_a_request() -> None:
    with pytest.raises(InvalidInput, match=r"window\.edge_height.*just under the wall at the window"):
        DesignRequest.from_json({"key": "A4", "window": {"wall": 3.0, "edge_height": 3.0}})


def run(document: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "acoustics", "design"], input=json.dumps(document), capture_output=True, text=True
    )


def test_the_command_answers_with_a_flute() -> None:
    done = run({"key": "E5"})
    assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout)
    assert set(answer) == {"instrument", "notes", "limits", "warnings"}
    assert {"fingering", "note", "target", "frequency", "cents"} <= set(answer["notes"][0])
    assert len(Instrument.from_json(answer["instrument"]).holes) == 6


def test_the_command_refuses_in_one_line() -> None:
    done = run({"key": "E5", "limits": {"spacing": [30, 20]}})
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "limits.spacing" in done.stderr


def test_the_command_says_what_had_to_give() -> None:
    done = run({"key": "C4", "limits": {"reach": 80}})
    assert done.returncode == 3
    answer = json.loads(done.stdout)
    assert answer["gave"]
    assert len(answer["nearest"]["notes"]) == 7
