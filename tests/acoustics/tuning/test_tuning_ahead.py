"""What the advice predicts of work still to be done: later cuts that follow what turns out to be true."""

from typing import Any

import numpy as np
import pytest

from acoustics.belief.corrections import NAMES, WIDE
from acoustics.commands import advise
from acoustics.model.implicit import CENTS
from acoustics.tuning.advise import AdviceRequest, believe
from acoustics.tuning.aims import controls_of
from acoustics.tuning.finished import look_ahead, plan_for
from tests.load.tuning_bench import Bench, Task, by_advice

A4 = Task.of("A4")
SPREADS = ("note_sd", "smooth_sd", "hole_sd", "session_sd", "cut_sd", "slip")


def with_only(name: str, off: float = 0.0) -> dict[str, Any]:
    """A shop for which one correction alone is uncertain, `off` of its spreads away from the model."""
    sds = [WIDE[n] if n == name else 1e-4 * WIDE[n] for n in NAMES]
    mean = {name: off * WIDE[name]}
    return {"mean": mean, "covariance": np.diag(np.square(sds)).tolist(), **dict.fromkeys(SPREADS, 0.0)}


@pytest.mark.parametrize("name", ["window", "bore", "holes"])
def test_how_surely_a_note_is_known_allows_for_the_tuning_of_the_others(name: str) -> None:
    """Against tuning all other notes again for another truth: the predicted spread is how far this note then moves."""
    flute = Bench.drawn(A4, 4, width=0.0, cut_sd=0.0)
    flute.cut(0, float(controls_of(A4.flute)[0]))
    ends = []
    for off in (0.0, 0.5):
        request = AdviceRequest.from_json(flute.document(shop=with_only(name, off), tolerance=0.5))
        belief, start = believe(request)
        outlook = look_ahead(request.job, belief, start)
        holes = np.arange(7) > 0
        _, then = plan_for(request.job, belief, outlook.owner, outlook.limits, outlook.now, holes)
        ends.append(CENTS * np.log(then.frequency[0, 0] / A4.targets[0]))
        if off == 0.0:
            spread = float(outlook.kept_sd[0])
    assert spread == pytest.approx(abs(ends[1] - ends[0]) / 0.5, rel=0.12, abs=0.15)


def test_a_note_cut_a_little_far_does_not_keep_the_next_hole_shut() -> None:
    """The note of hole 6 ends some cents high once hole 5 is open: hole 5 has to be opened all the same."""
    flute = Bench.drawn(A4, 11, width=0.0, reading_sd=1e-6, cut_sd=1e-6)
    sizes = controls_of(A4.flute)
    flute.cut(0, float(sizes[0]))
    flute.cut(6, round(float(sizes[6]) * 1.02, 2))
    last = by_advice(flute, limit=60)
    ends = flute.cents()
    assert 1.0 < ends[1] < 5.0
    assert last == "done"
    assert np.all(np.abs(np.delete(ends, 1)) < 5.0)


def test_all_notes_are_heard_of_together() -> None:
    """One reading of each of three notes before any cut tells more than three of one: the corrections are the same."""
    alike, apart = Bench.drawn(A4, 12, width=0.5), Bench.drawn(A4, 12, width=0.5)
    for fingering in ("xxxxxx", "xxxxxx", "xxxxxx"):
        alike.read(fingering)
    for fingering in ("xxxxxx", "xxxooo", "ooxooo"):
        apart.read(fingering)
    sds = [[note["sd_cents"] for note in advise(flute.document())["notes"]] for flute in (alike, apart)]
    assert np.mean(sds[1]) < 0.7 * np.mean(sds[0])
    step = advise(alike.document())["next"]
    assert step["action"] == "measure"
    assert step["fingering"] != "xxxxxx"


def test_a_flute_is_not_given_up_on_two_wrong_readings() -> None:
    flute = Bench.drawn(A4, 13, width=0.0)
    for fingering in ("xxxxxx", "xxxooo", "xoxooo"):
        flute.read(fingering)
    step = advise(flute.document())["next"]
    while step["action"] == "measure":
        flute.read(step["fingering"])
        step = advise(flute.document())["next"]
    flute.cut(step["hole"] or 0, step["to"])
    for _ in range(2):
        flute.read("xxxxxx")
        flute.readings[-1]["frequency"] *= 2.0 ** (60.0 / 1200.0)
        assert advise(flute.document())["next"]["action"] == "measure"
