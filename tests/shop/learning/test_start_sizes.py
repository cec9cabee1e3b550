"""Start sizes: on the safe side in every size, and with the shop's own drills."""

from dataclasses import replace

import pytest
from sqlmodel import select

from acoustics.designing.shop_spread import ShopSpread, learned_spread
from acoustics.model.resonance import Mode, predict
from acoustics.notes.music import cents
from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import BlankStatus, Drill, Pattern, PatternRevision, Shop
from webapp.shop.bench import cuts, finished_flutes
from webapp.shop.bench.cuts import RecordCut
from webapp.shop.bench.finished_flutes import Reason
from webapp.shop.learning import start_sizes
from webapp.shop.learning.own_spread import own_spread
from webapp.shop.patterns import rules as patterns
from webapp.shop.patterns.forms import DesignAsked, SavePattern
from webapp.shop.settings import air


def saved(shop: OpenShop, **asked: object) -> tuple[Pattern, PatternRevision]:
    with shop.database.write() as session:
        wanted = DesignAsked.model_validate({"key": "A4"} | asked)
        revision = patterns.save_pattern(session, shop.maker, wanted, SavePattern(name="to test with"))
        return patterns.pattern_of(session, revision.pattern_id), revision


def test_every_size_starts_on_the_safe_side_with_a_drill_that_the_shop_has(open_shop: OpenShop) -> None:
    pattern, revision = saved(open_shop)
    with open_shop.database.read() as session:
        found = start_sizes.start_of(session, pattern, revision)
        drills = set(session.exec(select(Drill.diameter)))
    assert found is not None
    flute = patterns.instrument_of(revision)
    assert found.sizes.foot_first > flute.foot_x
    for number, hole in enumerate(flute.holes, 1):
        first, last = found.hole(number)
        assert last == hole.diameter
        assert 0.4 * last <= first < last
        assert first in drills or not [d for d in drills if d <= first]
    # Larger holes and a shorter foot sharpen (Fletcher and Rossing 1998, from memory): every note must start flat.
    assert all(note.turned < 0 for note in found.sizes.notes)
    assert "fewer than 1 flute in 100" in found.reason


def test_a_chart_without_a_note_for_each_hole_has_no_start_sizes(open_shop: OpenShop) -> None:
    pattern, revision = saved(open_shop)
    with open_shop.database.read() as session:
        fewer = PatternRevision.model_validate(revision.model_dump() | {"notes": revision.notes[:5]})
        assert start_sizes.start_of(session, pattern, fewer) is None


def test_the_shops_own_finished_flutes_move_the_spread(open_shop: OpenShop) -> None:
    """None to begin with; a flute tells once all its sizes are known; what is left out tells nothing."""
    maker = open_shop.maker
    pattern, revision = saved(open_shop)
    design = patterns.instrument_of(revision)
    holes = tuple(replace(hole, diameter=hole.diameter + 0.5) for hole in design.holes)
    flute = replace(design, bore=(design.bore[0], (design.foot_x - 1.0, design.bore[1][1])), holes=holes)
    with open_shop.database.write() as session:
        (blank,) = made.opened(session, maker)
        made.bring_to(session, maker, blank, "last-tuning")
        made.bring_to(session, maker, blank, "no such step")
        session.refresh(blank)
        assert blank.status is BlankStatus.FINISHED
        medium = air.played(session.get_one(Shop, 1))
        assert blank.id is not None
        cuts.record(session, maker, blank.id, RecordCut(control=0, size=flute.foot_x))
        assert own_spread(session, medium) == ShopSpread()  # nobody wrote down how the holes were opened
        for number, hole in enumerate(flute.holes, 1):
            cuts.record(session, maker, blank.id, RecordCut(control=number, size=hole.diameter))
        found = own_spread(session, medium)
        assert blank.revision_id == revision.id
        start = start_sizes.start_of(session, pattern, revision)
    assert found.flutes == 1
    # The same by the engine's prediction of the flute as it was cut; every note was last read on its target.
    wanted = {str(note["fingering"]): float(note["target"]) for note in revision.notes}
    off = []
    for note in predict(flute, medium, list(wanted), modes=1):
        assert isinstance(note.modes[0], Mode)
        off.append(cents(wanted[note.fingering], note.modes[0].frequency))
    expected = learned_spread([off])
    assert found.off == pytest.approx(expected.off, abs=0.05)
    assert found.common == pytest.approx(expected.common, abs=0.05)
    assert start is not None
    assert "From one finished flute of this shop" in start.source
    assert start.is_off
    with open_shop.database.write() as session:
        finished_flutes.leave_out(session, maker, blank.id, Reason(why="the wood had moved"))
        assert own_spread(session, medium) == ShopSpread()
        start = start_sizes.start_of(session, pattern, revision)
        # What it was begun with stays what it was, whatever the shop learns.
        begun = [made.step(session, blank, f"hole-{number}").nominal for number in range(1, 7)]
        assert list(cuts.at_first(session, blank)[1:]) == begun
    assert start is not None
    assert "No finished flute tells yet" in start.source
