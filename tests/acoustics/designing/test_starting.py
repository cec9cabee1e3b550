from typing import Any

import numpy as np
import pytest

from acoustics.designing.design import Design, DesignRequest, design
from acoustics.designing.layout import PitchModel, layout_of
from acoustics.designing.shop_spread import ShopSpread
from acoustics.designing.starting import LEAST_SHARE, StartSizes, start_sizes
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.model.air import PLAYED_FLUTE
from acoustics.model.implicit import CENTS, corrected, slope
from acoustics.model.network import Network
from acoustics.model.resonance import open_nodes, resonances


@pytest.fixture(scope="module")
def flute() -> Design:
    return design(DesignRequest.from_json({"key": "A4"}))


def targets(flute: Design) -> dict[str, float]:
    return {n.fingering: n.target for n in flute.notes}


def needed(flute: Instrument, goals: dict[str, float], off: np.ndarray) -> np.ndarray:
    """Foot and diameters (g, 1 + n) that bring flutes in tune whose notes stand `off` (g, notes) cents above the model.

    Newton's method on sizes and resonances together, by the engine's characteristic function, with the slopes of the
    design kept all the way: what is not linear counts, and every note is checked at the end.
    """
    layout, n = layout_of(flute), len(flute.holes)
    model = PitchModel(flute, list(goals), PLAYED_FLUTE, modes=1)
    is_open = open_nodes(model.fingerings, model.geometry(layout))
    w0 = model.search(layout)
    sizes = [0, *range(n + 1, 2 * n + 1)]
    rates = model.gradient(layout, w0)[:, 0, sizes]
    slopes = slope(Network(model.geometry(layout), PLAYED_FLUTE), w0[None], is_open)
    wanted = 2.0 * np.pi * np.array(list(goals.values())) / 2.0 ** (off / 1200.0)
    layouts, w = np.tile(layout, (len(off), 1)), np.tile(w0, (len(off), 1, 1))
    for _ in range(14):
        w = corrected(Network(model.geometry(layouts), PLAYED_FLUTE), w, slopes, is_open)
        step = -CENTS * np.log(w[..., 0].real / wanted) @ np.linalg.inv(rates).T
        step[:, 1:] = np.clip(step[:, 1:], -1.0, 1.0)
        w = w * np.exp(step @ rates.T / CENTS)[..., None]
        layouts[:, sizes] += step
    found = resonances(model.geometry(layouts), PLAYED_FLUTE, model.fingerings, 1).frequency[..., 0]
    assert np.max(np.abs(CENTS * np.log(2.0 * np.pi * found / wanted))) < 0.2
    return np.asarray(layouts[:, sizes])


def past(start: StartSizes, sizes: np.ndarray) -> np.ndarray:
    """Which flutes (g,) start with a note that is sharp once all other sizes are what they need to be."""
    first = np.array([h.first for h in start.holes])
    return np.asarray((sizes[:, 0] > start.foot_first) | np.any(sizes[:, 1:] < first, axis=1))


FLUTES = 900


@pytest.mark.parametrize(
    ("document", "shop"),
    [
        ({"key": "A4"}, ShopSpread()),
        ({"key": "D4", "holes": 5}, ShopSpread(common=4.0, each=3.0, off=-15.0)),
        ({"key": "F#4", "scale": "major"}, ShopSpread(common=7.0, each=2.0, off=12.0)),
    ],
)
def test_fewer_than_one_flute_in_a_hundred_starts_past_a_size_it_needs(
    document: dict[str, Any], shop: ShopSpread
) -> None:
    made = design(DesignRequest.from_json(document))
    goals = targets(made)
    start = start_sizes(made.instrument, PLAYED_FLUTE, goals, shop)
    assert start.chance < 0.01
    notes = len(goals)
    rng = np.random.default_rng(11)
    off = rng.multivariate_normal(np.full(notes, shop.off), shop.covariance(notes), size=FLUTES)
    sizes = needed(made.instrument, goals, off)
    lost = int(np.sum(past(start, sizes)))
    assert lost < 0.01 * FLUTES
    # The rule is not so careful that it could not fail: with half the room flutes are lost.
    half = start_sizes(made.instrument, PLAYED_FLUTE, goals, ShopSpread(0.5 * shop.common, 0.5 * shop.each, shop.off))
    assert np.sum(past(half, sizes)) > 0.02 * FLUTES


def test_every_note_starts_flat_even_with_the_outside_finished(flute: Design) -> None:
    start = start_sizes(flute.instrument, PLAYED_FLUTE, targets(flute), turning=1.5)
    for note in start.notes:
        assert note.now < note.turned < 0
    assert start.foot_first > start.foot_last
    assert all(LEAST_SHARE * h.last <= h.first < h.last for h in start.holes)


def test_notes_are_flattened_later_by_the_holes_they_keep_closed(flute: Design) -> None:
    start = start_sizes(flute.instrument, PLAYED_FLUTE, targets(flute))
    later = {n.fingering: n.later for n in start.notes}
    assert later["xxxxxx"] < later["xxxxxo"] < later["xxxooo"] < 0
    assert -10 < later["xxxxxx"] < -2  # common practice: several cents


def test_a_shop_that_knows_its_spread_starts_nearer(flute: Design) -> None:
    wide = start_sizes(flute.instrument, PLAYED_FLUTE, targets(flute))
    near = start_sizes(flute.instrument, PLAYED_FLUTE, targets(flute), ShopSpread(2.0, 2.0))
    assert near.foot_first < wide.foot_first
    assert all(a.first > b.first for a, b in zip(near.holes, wide.holes, strict=True))
    exact = start_sizes(flute.instrument, PLAYED_FLUTE, targets(flute), ShopSpread(0.0, 0.0))
    assert exact.foot_first - exact.foot_last < 0.5
    assert [h.first for h in exact.holes] == [h.last for h in exact.holes]


def test_first_holes_are_drills_of_the_shop(flute: Design) -> None:
    drills = [4.0, 5.0, 6.0, 7.0, 8.0, 9.0]
    start = start_sizes(flute.instrument, PLAYED_FLUTE, targets(flute), drills=drills)
    free = start_sizes(flute.instrument, PLAYED_FLUTE, targets(flute))
    for snapped, unsnapped in zip(start.holes, free.holes, strict=True):
        assert snapped.first in drills
        assert snapped.first <= unsnapped.first + 0.1


def test_what_cannot_be_is_refused(flute: Design) -> None:
    with pytest.raises(InvalidInput, match="targets"):
        start_sizes(flute.instrument, PLAYED_FLUTE, {"xxxxxx": 440.0})
    with pytest.raises(InvalidInput, match="turning"):
        start_sizes(flute.instrument, PLAYED_FLUTE, targets(flute), turning=-1.0)


def test_a_hole_is_never_started_too_small_and_the_chance_says_so(flute: Design) -> None:
    start = start_sizes(flute.instrument, PLAYED_FLUTE, targets(flute), ShopSpread(common=30.0, each=30.0))
    assert any(h.first < LEAST_SHARE * h.last + 0.1 for h in start.holes)
    assert start.chance > 0.01
    assert start_sizes(flute.instrument, PLAYED_FLUTE, targets(flute), ShopSpread(0.0, 0.0)).chance == 0.0


def test_flutes_that_come_out_sharp_are_expected_to_end_longer_and_narrower(flute: Design) -> None:
    plain = start_sizes(flute.instrument, PLAYED_FLUTE, targets(flute))
    sharp = start_sizes(flute.instrument, PLAYED_FLUTE, targets(flute), ShopSpread(off=10.0))
    assert sharp.foot_likely > sharp.foot_last == plain.foot_likely
    assert sharp.foot_first > plain.foot_first
    assert [h.last for h in sharp.holes] == [h.likely for h in plain.holes]
