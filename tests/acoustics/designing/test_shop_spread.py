"""The shop's own spread against what is known of the flutes it was made from."""

import numpy as np
import pytest

from acoustics.designing.shop_spread import ShopSpread, learned_spread
from acoustics.errors import InvalidInput


def made(flutes: int, off: float, common: float, each: float, notes: int = 7, seed: int = 3) -> list[list[float]]:
    rng = np.random.default_rng(seed)
    whole = off + common * rng.standard_normal(flutes)
    return np.asarray(whole[:, None] + each * rng.standard_normal((flutes, notes))).tolist()  # type: ignore[no-any-return]


def test_a_shop_without_flutes_has_the_stated_spread() -> None:
    assert learned_spread([]) == learned_spread([[]]) == ShopSpread()
    assert ShopSpread().flutes == 0


def test_many_flutes_outweigh_what_was_stated() -> None:
    flutes = np.array(made(400, off=12.0, common=3.0, each=2.0))
    found = learned_spread(flutes.tolist())
    assert found.flutes == 400
    # The analysis of variance of one random factor (Searle, Casella and McCulloch 1992, Variance Components).
    within = float(np.mean(np.var(flutes, axis=1, ddof=1)))
    between = float(np.var(np.mean(flutes, axis=1), ddof=1)) - within / flutes.shape[1]
    assert found.each == pytest.approx(np.sqrt(within), rel=0.03)
    assert found.common == pytest.approx(np.sqrt(between), rel=0.05)
    assert found.off == pytest.approx(float(np.mean(flutes)), abs=0.1)


def test_the_first_flutes_count_for_something_but_not_for_all() -> None:
    one = learned_spread(made(1, off=12.0, common=0.0, each=0.0))
    assert 4.0 < one.off < 10.0
    assert one.common < ShopSpread().common
    spreads = [learned_spread(made(n, off=12.0, common=2.0, each=2.0)) for n in (1, 4, 12, 40)]
    assert [s.common for s in spreads] == sorted((s.common for s in spreads), reverse=True)
    assert [s.each for s in spreads] == sorted((s.each for s in spreads), reverse=True)
    wild = learned_spread(made(12, off=0.0, common=20.0, each=12.0))
    assert wild.common > 12.0
    assert wild.each > 9.0


def test_what_is_told_for_the_next_flute_covers_it() -> None:
    """Shops whose own mean and spread are as stated, each with six flutes: a note of the seventh lies within."""
    rng = np.random.default_rng(7)
    stated = ShopSpread()
    inside, shops = 0, 400
    for seed in range(shops):
        off = stated.common * np.sqrt(0.5) * rng.standard_normal()
        flutes = made(7, off, stated.common * np.sqrt(0.5), stated.each, seed=seed)
        told = learned_spread(flutes[:6])
        inside += abs(flutes[6][0] - told.off) < 1.96 * np.hypot(told.common, told.each)
    assert 0.92 < inside / shops < 0.98


def test_flutes_with_few_notes_and_a_spread_of_nothing_are_taken() -> None:
    assert learned_spread([[3.0], [5.0, 4.0], []]).flutes == 2
    assert learned_spread([[3.0, 3.0]] * 3, ShopSpread(0.0, 0.0)) == ShopSpread(0.0, 0.0, 0.0, 3)
    assert ShopSpread.from_json({}) == ShopSpread()
    assert ShopSpread.from_json({"off": -12.0}).off == -12.0
    with pytest.raises(InvalidInput, match=r"spread\.each"):
        ShopSpread.from_json({"each": -1})
