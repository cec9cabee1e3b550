"""What is still to come when the fundamental is heard at voicing."""

from dataclasses import replace

import pytest

from acoustics.errors import InvalidInput
from acoustics.model.air import PLAYED_FLUTE
from acoustics.model.resonance import Mode, predict
from acoustics.tuning.rise import as_voiced, expected_rise
from tests.load.tuning_bench import Task

A4 = Task.of("A4").flute


def lowest(flute) -> float:  # type: ignore[no-untyped-def]
    mode = predict(flute, PLAYED_FLUTE, ["x" * len(flute.holes)], modes=1)[0].modes[0]
    assert isinstance(mode, Mode)
    return mode.frequency


def test_the_parts_add_up_to_what_the_model_says_of_first_and_last() -> None:
    from math import log2

    now = as_voiced(A4, side=34.0, foot=1.03 * A4.foot_x)
    found = expected_rise(now, A4, PLAYED_FLUTE)
    assert [part.cause for part in found.parts] == ["finger holes", "foot", "wall", "rounding", "finish"]
    assert found.cents == pytest.approx(1200.0 * log2(lowest(A4) / lowest(now)), abs=0.01)
    assert found.part("finger holes") < -5.0 < 5.0 < found.part("foot")
    assert found.part("wall") > 0.0
    assert found.part("rounding") > 0.0
    assert found.sd > max(part.sd for part in found.parts)


def test_turning_a_round_flute_of_drilled_holes_raises_it_five_to_ten_cents() -> None:
    """5 to 10 cents low before 1 to 2 mm are turned off, in whole cents: common practice, no published source."""
    for wall in (1.0, 1.5, 2.0):
        thick = replace(A4, body=replace(A4.body, wall=A4.body.wall + wall))
        assert 5 <= round(expected_rise(thick, A4, PLAYED_FLUTE).cents) <= 10


def test_a_finished_flute_only_has_its_finish_to_come() -> None:
    found = expected_rise(A4, A4, PLAYED_FLUTE)
    assert (found.cents, len(found.parts)) == (0.0, 1)
    assert as_voiced(A4, holes=True) == A4


def test_what_cannot_be_is_refused_by_name() -> None:
    for change, field in (({"side": 19.0}, "side"), ({"foot": 100.0}, "foot"), ({"side": float("nan")}, "side")):
        with pytest.raises(InvalidInput) as refused:
            as_voiced(A4, **change)
        assert refused.value.field == field
    with pytest.raises(InvalidInput) as refused:
        expected_rise(replace(A4, bore=((-20.0, 25.0), *A4.bore[1:])), A4, PLAYED_FLUTE)
    assert refused.value.field == "now.bore"
