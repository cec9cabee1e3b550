"""Start sizes: on the safe side in every size, and with the shop's own drills."""

from sqlmodel import select

from tests.shops import OpenShop
from webapp.models import Drill, Pattern, PatternRevision
from webapp.shop import patterns, start_sizes
from webapp.shop.pattern_forms import DesignAsked, SavePattern


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
