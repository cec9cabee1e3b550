"""What was gauged is believed: passed, let pass or failed, it changes the flute, its prediction and its advice."""

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from sqlmodel import Session

from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Body, Instrument
from acoustics.model.air import Air
from acoustics.model.resonance import Mode, predict
from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Blank, Outcome, Shop, StepRecord
from webapp.shop.advice import other_keys
from webapp.shop.advice.other_keys import OtherKeysAsked
from webapp.shop.base.finding import find
from webapp.shop.bench import as_built, cuts, gauged
from webapp.shop.production import stages
from webapp.shop.production.stages import RecordStep, TakeBack
from webapp.shop.settings import air
from webapp.shop.units import engine_words


def at(session: Session, shop: OpenShop, code: str) -> Blank:
    blank = made.opened(session, shop.maker)[0]
    made.bring_to(session, shop.maker, blank, code)
    return blank


def record(session: Session, shop: OpenShop, blank: Blank, code: str, value: float, **asked: str) -> StepRecord:
    step = made.step(session, blank, code)
    return stages.record(session, shop.maker, step.id or 0, RecordStep(value=value, **asked))


def test_a_bore_that_was_let_pass_is_the_bore_from_then_on(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blank = at(session, open_shop, "bore-gauge")
        pattern = cuts.designed(session, blank)
        assert as_built.of(session, blank).design == pattern
        wide = made.FLUTE.bore[-1][1] + 0.95
        entry = record(session, open_shop, blank, "bore-gauge", wide, outcome="let pass", why="too good to burn")
        assert entry.outcome is Outcome.LET_PASS
        built = as_built.of(session, blank)
        assert built.design.bore[-1][1] == built.now.bore[-1][1] == pytest.approx(wide)
        assert built.gauged == ("bore",)
        # The outside stays: the wall is thinner by half of it.
        assert built.design.body.wall == pytest.approx(made.FLUTE.body.wall - 0.475)
        stages.take_back(session, open_shop.maker, entry.id or 0, TakeBack(why="read wrongly"))
        assert as_built.of(session, blank).design == pattern


def test_a_foot_that_failed_its_gauge_is_as_short_as_it_was_measured(open_shop: OpenShop) -> None:
    """Nothing that is proposed has a foot longer than the foot is."""
    with open_shop.database.write() as session:
        blank = at(session, open_shop, "foot-start")
        short = made.FLUTE.foot_x - 12.0
        entry = record(session, open_shop, blank, "foot-start", short)
        assert entry.outcome is Outcome.FAILED
        now = other_keys.as_it_is(session, blank)
        assert now.flute.foot_x == pytest.approx(short)
        assert "foot" in now.measured
        for key in other_keys.keys(session, blank, now, OtherKeysAsked(), open_shop.maker.units):
            assert key.becoming.design.instrument.foot_x <= short + 1e-6


def test_a_gauge_that_is_off_says_what_it_does_to_the_notes(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blank = at(session, open_shop, "bore-gauge")
        step = made.step(session, blank, "bore-gauge")
        medium = air.played(find(session, Shop, 1, "shop"))
        wide = made.FLUTE.bore[-1][1] + 0.5
        found = gauged.cost(made.FLUTE, medium, step, wide)
        assert found is not None
        # By the engine itself: the same flute with a wider bore in the same outside.
        flute = made.FLUTE
        window = flute.window
        if window.wall is not None:
            window = replace(window, wall=window.wall - 0.25, edge_height=max(0.0, window.edge_height - 0.25))
        wider = replace(
            flute,
            bore=tuple((x, d + 0.5) for x, d in flute.bore),
            body=Body(flute.body.outside, flute.body.wall - 0.25),
            window=window,
        )
        assert found.lowest == pytest.approx(moved(flute, wider, medium), abs=0.01)
        assert abs(found.most) >= abs(found.lowest) > 1.0
        assert f"{found.lowest:+.0f}" in found.words
        assert gauged.cost(made.FLUTE, medium, step, step.nominal or 0.0) is None


def moved(one: Instrument, other: Instrument, medium: Air) -> float:
    closed = ["x" * len(one.holes)]
    a, b = (predict(flute, medium, closed, 1)[0].modes[0] for flute in (one, other))
    assert isinstance(a, Mode) and isinstance(b, Mode)
    return 1200 * math.log2(b.frequency / a.frequency)


@pytest.mark.parametrize(
    ("code", "value", "of"),
    [
        ("window-wall", 3.0, lambda flute: flute.window_wall),
        ("window-length", 6.0, lambda flute: flute.window.length),
        ("window-width", 9.0, lambda flute: flute.window.width),
        ("flue-depth", 1.1, lambda flute: flute.flue.depth),
    ],
)
def test_each_size_of_the_head_is_what_its_gauge_showed(
    code: str, value: float, of: Callable[[Instrument], float]
) -> None:
    flute, names = gauged.as_gauged(made.FLUTE, {code: value})
    assert of(flute) == pytest.approx(value)
    assert len(names) == 1


def test_holes_that_were_laid_out_by_an_untrue_strip_lie_by_their_share() -> None:
    last = made.FLUTE.holes[-1].x
    flute, _ = gauged.as_gauged(made.FLUTE, {"last-hole": 0.96 * last})
    assert [hole.x for hole in flute.holes] == pytest.approx([0.96 * hole.x for hole in made.FLUTE.holes])


def test_a_size_that_no_flute_can_have_changes_nothing() -> None:
    assert gauged.as_gauged(made.FLUTE, {"window-width": 300.0, "edge-height": 90.0}) == (made.FLUTE, ())


@pytest.mark.parametrize(
    ("field", "limit", "said"),
    [
        ("bore[1][0]", "the foot cuts 2.10 mm into holes[5]", "the foot cuts 2.10 mm into hole 6"),
        ("holes[2].x", "holes[2] overlaps holes[1] by 0.30 mm", "hole 3 overlaps hole 2 by 0.30 mm"),
        ("window.edge_height", "must be 0 to 3 mm", "the splitting edge's height must be 0 to 3 mm"),
    ],
)
def test_no_path_of_the_engine_is_shown_to_a_maker(field: str, limit: str, said: str) -> None:
    words = engine_words.said(InvalidInput(field, 1.0, limit))
    assert not any(mark in words for mark in "[]_")
    assert words == said
