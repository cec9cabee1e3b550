"""The advice as the bench gets it: JSON in, JSON out."""

import json
import subprocess
import sys
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from acoustics.commands import advise
from acoustics.errors import InvalidInput
from acoustics.model.implicit import CENTS
from acoustics.notes.music import cents
from acoustics.tuning.advise import RISK
from acoustics.tuning.aims import controls_of, with_controls
from tests.load.tuning_bench import Bench, Task, by_advice, outcome, summary

A4 = Task.of("A4")


def bench(seed: int = 3, **more: Any) -> Bench:
    return Bench.drawn(A4, seed, **more)


def test_nothing_is_cut_before_anything_is_heard() -> None:
    answer = advise(bench().document())
    assert answer["next"]["action"] == "measure"
    assert answer["next"]["fingering"] == "xxxxxx"
    assert answer["next"]["hole"] is None
    assert answer["other_keys"] == []
    assert {"expected_cents", "sd_cents", "last_reading_cents"} <= set(answer["notes"][0])


def test_the_work_goes_from_the_foot_up_and_each_step_keeps_the_contract() -> None:
    flute = bench()
    done: list[int] = []
    for _ in range(80):
        before = controls_of(flute.paper)
        answer = advise(flute.document())
        step = answer["next"]
        assert step["why"].endswith(".")
        assert "\n" not in step["why"]
        if step["action"] == "measure":
            flute.read(step["fingering"])
        elif step["action"] in ("open hole", "shorten foot"):
            control = step["hole"] or 0
            assert step["from"] == before[control]
            assert step["to"] < step["from"] if control == 0 else step["to"] > step["from"]
            assert 0.0 <= step["risk_sharp"] <= RISK
            done.append(control)
            flute.cut(control, step["to"])
        else:
            break
    assert step["action"] == "done"
    firsts = list(dict.fromkeys(done))
    assert firsts == [0, 6, 5, 4, 3, 2, 1]
    # Nothing raises a note again that stays flat, and hearing more could change nothing: it ends there, and says so.
    true = flute.cents()
    assert np.all(true < 5.0)
    assert np.sum(true > -5.0) >= 6
    for note, stands in zip(answer["notes"], true, strict=True):
        assert abs(note["expected_cents"] - stands) < 3.0 * note["sd_cents"]


def test_the_same_question_gets_the_same_answer() -> None:
    flute = bench()
    for fingering in ("xxxxxx", "xxxxxo", "xxxxxx"):
        flute.read(fingering)
    assert advise(flute.document()) == advise(flute.document())


def test_the_order_of_equal_readings_matters_only_while_the_flute_warms_up() -> None:
    flute = bench()
    for fingering in ("xxxxxx", "xxxxxo", "xxxxoo", "xxxxxx"):
        flute.read(fingering)
    alike = {"shop": {"session_sd": 0.0}}
    there = advise(flute.document(**alike))
    flute.readings.reverse()
    back = advise(flute.document(**alike))
    for note, again in zip(there["notes"], back["notes"], strict=True):
        assert again["expected_cents"] == pytest.approx(note["expected_cents"], abs=0.05)
        assert again["sd_cents"] == pytest.approx(note["sd_cents"], abs=0.02)
    # Window and air can hardly be told apart: along that line the iteration ends a little earlier or later.
    for name, value in there["corrections"].items():
        assert back["corrections"][name]["mean"] == pytest.approx(value["mean"], abs=0.05 * value["sd"])


def test_five_flutes_end_in_tune() -> None:
    """A small version of tests/load/tuning_simulation.py: other seeds than those it is run on.

    At the 1 in 100 that is aimed at, one of five ends a little too sharp in one such test of twenty.
    """
    keys = [Task.of(key) for key in ("A4", "G4", "D5")]
    ends = []
    for seed in range(5):
        flute = Bench.drawn(keys[seed % 3], 77_000 + seed)
        ends.append(outcome(flute, by_advice(flute)))
    found = summary(ends)
    assert [end.last for end in ends] == ["done"] * 5
    assert max(float(end.cents.max()) for end in ends) < 6.0
    assert found["notes within %"] >= 85.0
    assert found["cuts"] < 15.0
    assert found["readings"] < 32.0


@pytest.mark.parametrize(
    ("interval", "word"), [(2.0, "octave"), (0.5, "octave"), (3.0, "twelfth"), (2.0 ** (3.0 / 12.0), "fingering")]
)
def test_a_reading_that_contradicts_all_else_is_met_by_listening_again(interval: float, word: str) -> None:
    flute = bench()
    for fingering in ("xxxxxx", "xxxxxo", "xxxxxx"):
        flute.read(fingering)
    flute.readings[-1]["frequency"] *= interval
    answer = advise(flute.document())
    assert answer["next"]["action"] == "measure"
    assert answer["next"]["fingering"] == "xxxxxx"
    assert word in answer["next"]["why"]
    assert next(n for n in answer["notes"] if n["fingering"] == "xxxxxx")["set_aside"]
    flute.read("xxxxxx")
    assert advise(flute.document())["next"]["why"] != answer["next"]["why"]


def test_one_wrong_reading_among_good_ones_changes_no_cut_by_much() -> None:
    flute = bench()
    for fingering in ("xxxxxx", "xxxxxx", "xxxxxo"):
        flute.read(fingering)
    good = advise(flute.document())["next"]
    flute.readings.insert(1, {**flute.readings[0], "frequency": flute.readings[0]["frequency"] * 0.94})
    assert advise(flute.document())["next"]["to"] == pytest.approx(good["to"], abs=0.3)


def test_a_single_flat_reading_at_the_edge_of_belief_is_not_enough_to_cut() -> None:
    flute = bench()
    flute.read("xxxxxx")
    flute.readings[-1]["frequency"] = A4.targets[0] * 2.0 ** (-130.0 / 1200.0)
    assert advise(flute.document())["next"]["action"] == "measure"


def test_an_octave_slip_that_comes_back_never_leads_to_a_cut() -> None:
    flute, said = bench(), []
    for _ in range(4):
        flute.read("xxxxxx")
        flute.readings[-1]["frequency"] *= 2.0
        answer = advise(flute.document())["next"]
        assert answer["action"] == "measure"
        said.append(answer["why"])
    assert "check the sizes" in said[1] and "check the sizes" in said[2]
    assert answer["fingering"] != "xxxxxx", "after that another note is asked for"


def in_tune(**change: float) -> dict[str, Any]:
    """The designed flute, read three times without noise on every note; `change` moves controls in mm first."""
    controls = controls_of(A4.flute)
    for name, mm in change.items():
        controls[int(name.removeprefix("c"))] += mm
    flute = Bench(A4, np.zeros(4), with_controls(A4.flute, controls), np.random.default_rng(1), reading_sd=0.0)
    for fingering in A4.fingerings * 3:
        flute.read(fingering)
    return flute.document()


def test_a_flute_in_tune_is_left_alone() -> None:
    assert advise(in_tune())["next"]["action"] == "done"


def test_a_hole_that_is_too_large_cannot_be_mended_but_the_flute_may_become_another() -> None:
    answer = advise(in_tune(c6=1.2))
    assert answer["next"]["action"] == "cannot reach"
    assert answer["next"]["hole"] == 6
    assert "nothing lowers it" in answer["next"]["why"]
    assert answer["other_keys"]
    assert any("A4 =" in other["key"] for other in answer["other_keys"])


def test_later_cuts_are_expected() -> None:
    """The lowest note is left sharp of its target by what the upper holes will still take from it."""
    flute = Bench.drawn(A4, 5, width=0.0, cut_sd=1e-9, reading_sd=1e-9)
    for _ in range(3):
        flute.read("xxxxxx")
    step = advise(flute.document())["next"]
    while step["action"] == "measure":
        flute.read(step["fingering"])
        step = advise(flute.document())["next"]
    assert step["action"] == "shorten foot"
    assert step["expected_reading"] > 0.0
    assert step["expected_cents"] < step["expected_reading"] - 5.0
    flute.cut(0, step["to"])
    assert cents_of(flute, "xxxxxx") == pytest.approx(step["expected_reading"], abs=2.0)
    grown = controls_of(A4.flute)
    grown[0] = step["to"]
    flute.paper = with_controls(flute.paper, grown)
    assert cents_of(flute, "xxxxxx") == pytest.approx(step["expected_cents"], abs=3.0)


def cents_of(flute: Bench, fingering: str) -> float:
    return float(flute.cents([fingering])[0])


def test_turning_to_come_is_expected() -> None:
    document = in_tune()
    thinner = advise(document | {"shop": {"finishing": {"wall": 0.5, "cents": 1.0, "sd": 0.5}}})
    plain = advise(document)
    for now, then in zip(plain["notes"][1:], thinner["notes"][1:], strict=True):
        assert then["expected_cents"] == pytest.approx(now["expected_cents"], abs=0.1)
        assert then["finished_cents"] > now["finished_cents"] + 1.0


def test_cuts_go_to_the_shops_drills() -> None:
    drills = [round(5.0 + 0.1 * i, 1) for i in range(70)]
    flute = bench(9)
    for _ in range(60):
        step = advise(flute.document(drills=drills))["next"]
        if step["action"] == "open hole":
            assert step["to"] in drills
            flute.cut(step["hole"], step["to"])
        elif step["action"] == "shorten foot":
            flute.cut(0, step["to"])
        elif step["action"] == "measure":
            flute.read(step["fingering"])
        else:
            break
    assert np.max(flute.cents()) < 5.0


def test_coarse_drills_are_named_where_they_stop_short() -> None:
    step = advise(in_tune(c6=-0.6) | {"drills": [8.0, 12.0]})["next"]
    assert step["action"] == "cannot reach"
    assert "drill" in step["why"] or "as far as it can go" in step["why"]


@pytest.mark.parametrize("holes", [5, 6])
def test_five_holes_foot_holes_and_missing_targets(holes: int) -> None:
    task = Task.of("G4", holes=holes, scale="major pentatonic")
    flute = Bench.drawn(task, 11)
    document = flute.document()
    document["targets"] = document["targets"][::2]
    last = document["instrument"]["holes"][-1]["x"]
    foot = document["instrument"]["bore"][-1][0]
    document["instrument"]["foot_holes"] = [{"x": 0.5 * (last + foot), "diameter": 3.0}]
    answer = advise(document)
    assert answer["next"]["action"] == "measure"
    heard = [{"fingering": "x" * holes, "frequency": document["targets"][0]["frequency"] * 0.97}] * 2
    step = advise(document | {"readings": heard})["next"]
    assert step["action"] in ("shorten foot", "measure")
    assert step["fingering"] in [target["fingering"] for target in document["targets"]]


def test_a_reading_from_before_the_holes_were_drilled_counts() -> None:
    flute = bench()
    bare = {**flute.paper.to_json(), "holes": []}
    plain = advise(flute.document())["corrections"]["window"]["sd"]
    flute.readings.append({"fingering": "", "frequency": 425.0, "instrument": bare})
    assert advise(flute.document())["corrections"]["window"]["sd"] < plain


def test_a_reading_in_other_air_is_put_right() -> None:
    flute = bench()
    flute.readings = [{"fingering": "xxxxxx", "frequency": 425.0}]
    here = advise(flute.document())
    c = A4.air.speed_of_sound
    warm = A4.air.to_json() | {"speed_of_sound": 1.01 * c}
    flute.readings = [{"fingering": "xxxxxx", "frequency": 1.01 * 425.0, "air": warm}]
    there = advise(flute.document())
    assert there["notes"][0]["last_reading_cents"] == pytest.approx(here["notes"][0]["last_reading_cents"], abs=0.01)
    assert there["notes"][0]["expected_cents"] == pytest.approx(here["notes"][0]["expected_cents"], abs=0.01)


def test_last_reading_is_cents_by_definition() -> None:
    """1200 log2 of the ratio (Ellis 1885; ISO 16:1975 for the pitch)."""
    flute = bench()
    flute.readings = [{"fingering": "xxxxxx", "frequency": 430.0}]
    heard = advise(flute.document())["notes"][0]["last_reading_cents"]
    assert heard == pytest.approx(1200.0 * np.log2(430.0 / 440.0), abs=5e-3)
    assert heard == pytest.approx(cents(430.0, 440.0), abs=5e-3)
    assert pytest.approx(1200.0 / np.log(2.0)) == CENTS


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("tolerance", 0.0),
        ("risk", 1.0),
        ("risk", float("nan")),
        ("drills", []),
        ("targets", []),
        ("targets", [{"fingering": "xxxxx", "frequency": 440.0}]),
        ("targets", [{"fingering": "xxxxxx", "frequency": 440.0}] * 2),
        ("readings", [{"fingering": "xxxxxq", "frequency": 440.0}]),
        ("readings", [{"fingering": "xxxxxx", "frequency": -1.0}]),
        ("readings", [{"fingering": "xxxxxx", "frequency": 440.0, "sd": 3.0}]),
        ("shop", {"note_sd": -1.0}),
        ("shop", {"covariance": [[1.0] * 4] * 4}),
        ("shop", {"mean": {"wood": 1.0}}),
        ("shop", {"finishing": {"wall": 5.0}}),
        ("colour", "red"),
    ],
)
def test_what_cannot_be_is_refused_by_name(field: str, value: object) -> None:
    with pytest.raises(InvalidInput) as refused:
        advise(bench().document() | {field: value})
    assert refused.value.field.startswith(field)


def test_the_command_line() -> None:
    flute = bench()
    flute.read("xxxxxx")
    document = json.dumps(flute.document())
    run = subprocess.run(
        [sys.executable, "-m", "acoustics", "advise"], input=document, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr
    assert json.loads(run.stdout) == advise(flute.document())
    refused = subprocess.run(
        [sys.executable, "-m", "acoustics", "advise"], input="{}", capture_output=True, text=True, check=False
    )
    assert refused.returncode == 2
    assert len(refused.stderr.splitlines()) == 1


def test_a_flute_is_left_five_to_ten_cents_low_before_one_to_two_millimetres_are_turned_off() -> None:
    """5 to 10 cents low before turning, as a meter shows whole cents: common practice, no published source."""
    for wall in (1.0, 1.5, 2.0):
        thick = replace(A4.flute, body=replace(A4.flute.body, wall=A4.flute.body.wall + wall))
        target = [{"fingering": "xxxxxx", "frequency": 440.0}]
        shop = {"finishing": {"wall": wall}}
        note = advise({"instrument": thick.to_json(), "targets": target, "shop": shop})["notes"][0]
        assert 5 <= round(note["finished_cents"] - note["expected_cents"]) <= 10
