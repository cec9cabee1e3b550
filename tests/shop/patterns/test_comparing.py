"""Two flutes beside each other."""

from dataclasses import replace

import pytest

from acoustics.designing.design import DesignedNote
from acoustics.flute.instrument import Hole
from tests.blanks import FLUTE
from webapp.shop.patterns import comparing


def test_only_what_differs_is_marked_and_by_how_much() -> None:
    other = replace(
        FLUTE,
        holes=(*FLUTE.holes[:2], replace(FLUTE.holes[2], diameter=8.6), *FLUTE.holes[3:]),
        foot_holes=(Hole(300.0, 5.0),),
        chamber=None,
    )
    rows = {(row.part, row.name): row for row in comparing.dimensions(FLUTE, other)}
    changed = {place: row.by for place, row in rows.items() if row.changed}
    assert changed == {
        ("slow air chamber", "length"): None,
        ("slow air chamber", "diameter"): None,
        ("finger hole 3", "diameter"): pytest.approx(0.6),
        ("foot hole 1", "at"): None,
        ("foot hole 1", "diameter"): None,
    }
    assert rows["foot hole 1", "at"].first is None
    assert rows["slow air chamber", "length"].second is None
    assert not any(row.changed for row in comparing.dimensions(FLUTE, FLUTE))


def test_less_than_a_tool_can_make_is_no_difference() -> None:
    near = replace(FLUTE, bore=((-8.5, 19.053), (330.0, 19.053)))
    assert not any(row.changed for row in comparing.dimensions(FLUTE, near))


def test_notes_of_either_chart_are_there() -> None:
    one = [DesignedNote("xx", "A4", 440.0, 440.4, 1.5), DesignedNote("xo", "C5", 523.3, 522.7, -2.0)]
    other = [DesignedNote("xx", "A4", 440.0, 440.8, 3.0), DesignedNote("oo", "D5", 587.3, 587.3, 0.0)]
    found = [(n.note, n.first, n.second) for n in comparing.notes(one, other)]
    assert found == [("A4", 1.5, 3.0), ("C5", -2.0, None), ("D5", None, 0.0)]
