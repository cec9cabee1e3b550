"""Limits of a gauge that follow from the tuning: no wider than a note may move."""

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from acoustics.designing.design import design
from acoustics.designing.request import DesignRequest
from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Instrument
from acoustics.model.air import PLAYED_FLUTE
from acoustics.model.resonance import resonances
from webapp.shop.routings.built_in import BUILT_IN
from webapp.shop.routings.step_plan import FIXED, Size, limits_of
from webapp.shop.routings.worth import FINEST, MOVES

SHARE = 2.5
Change = Callable[[Instrument, float], Instrument]

CHANGES: dict[str, Change] = {
    "window-length": lambda flute, mm: replace(flute, window=replace(flute.window, length=flute.window.length + mm)),
    "window-width": lambda flute, mm: replace(flute, window=replace(flute.window, width=flute.window.width + mm)),
    "edge-height": lambda flute, mm: replace(
        flute, window=replace(flute.window, edge_height=flute.window.edge_height + mm)
    ),
}


@pytest.fixture(scope="module", params=["G3", "A4", "E5"])
def flute(request: pytest.FixtureRequest) -> Instrument:
    return design(DesignRequest.from_json({"key": request.param})).instrument


def most_moved(before: Instrument, after: Instrument) -> float:
    """Cents that the note moves which moves most, by solving both flutes."""
    holes = len(before.holes)
    chart = ["x" * (holes - n) + "o" * n for n in range(holes + 1)]
    found = resonances(Geometry.of([before, after]), PLAYED_FLUTE, chart, modes=1).frequency
    return max(abs(1200 * math.log2(b / a)) for a, b in zip(found[0, :, 0], found[1, :, 0], strict=True))


@pytest.mark.parametrize("of", CHANGES)
def test_a_flute_made_at_its_limit_is_off_by_the_cents_that_were_asked_for(of: str, flute: Instrument) -> None:
    """Against the engine's own resonances, solved again for a flute at the limit."""
    limits = limits_of(Size(of, 0.0, 3.0, 3.0, SHARE), flute)
    assert limits is not None and limits.low is not None and limits.high is not None
    assert limits.high - limits.nominal == pytest.approx(limits.nominal - limits.low, abs=1e-5)
    off = limits.nominal - limits.low
    moved = most_moved(flute, CHANGES[of](flute, -off))
    if off > FINEST:
        assert 0.9 * SHARE < moved < 1.1 * SHARE
    else:
        assert moved > 0.9 * SHARE


def test_a_large_flute_may_be_made_less_exactly_and_typed_limits_stay_where_they_are_narrower() -> None:
    small, large = (design(DesignRequest.from_json({"key": key})).instrument for key in ("E5", "G3"))
    size = Size("window-width", 0.0, 3.0, 3.0, SHARE)
    near, far = limits_of(size, small), limits_of(size, large)
    assert near is not None and far is not None and near.high is not None and far.high is not None
    assert near.high - near.nominal < far.high - far.nominal
    narrow = limits_of(Size("window-width", 0.0, 0.05, None, SHARE), large)
    assert narrow is not None and narrow.low is not None
    assert narrow.nominal - narrow.low == pytest.approx(0.05) and narrow.high is None


def test_every_built_in_limit_of_what_moves_the_pitch_when_it_is_finished_follows_from_the_tuning() -> None:
    sizes = {step.code: step.size for step in BUILT_IN if step.size and step.size.of != FIXED}
    told = {size.of for size in sizes.values() if size.cents}
    assert told == {"outside", "window-wall", "window-length", "window-width", "edge-height", "last-hole"}
    assert told <= set(MOVES)
