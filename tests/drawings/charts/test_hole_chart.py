"""The chart of a flute's own holes: every hole where it is and as wide as it is, to the scale stated."""

import re

import pytest

from acoustics.flute.instrument import Instrument
from tests.paper.blanks import NOTES, SIX_HOLES
from webapp.drawings.charts.fingering import ChartNote
from webapp.drawings.charts.hole_chart import hole_chart

FLUTE = Instrument.from_json(SIX_HOLES)
CIRCLE = re.compile(r'<circle fill="(#\w+)"[^>]*? cx="([\d.]+)" cy="([\d.]+)" r="([\d.]+)"')


def chart_notes() -> list[ChartNote]:
    return [ChartNote(fingering, name) for fingering, name, *_ in NOTES]


@pytest.mark.parametrize(("width", "height"), [(178.0, 74.0), (90.0, 120.0)])
def test_holes_stand_where_they_are_in_their_size(width: float, height: float) -> None:
    svg, scale = hole_chart(FLUTE, chart_notes(), width, height)
    found = [(fill, *(float(n) for n in rest)) for fill, *rest in CIRCLE.findall(svg)]
    assert len(found) == len(NOTES) * len(FLUTE.holes)
    for index, (fingering, *_) in enumerate(NOTES):
        column = found[index * 6 : index * 6 + 6]
        assert len({x for _, x, _, _ in column}) == 1
        for (fill, _, y, r), hole, mark in zip(column, FLUTE.holes, fingering, strict=True):
            assert 2 * r * scale == pytest.approx(hole.diameter, abs=0.02)
            assert (y - column[0][2]) * scale == pytest.approx(hole.x - FLUTE.holes[0].x, abs=0.02)
            assert (fill == "#000000") == (mark == "x")
    size = re.search(r'width="([\d.]+)mm" height="([\d.]+)mm"', svg)
    assert size is not None
    assert float(size[1]) <= width + 0.6 and float(size[2]) <= height + 0.6


def test_a_chart_that_makes_no_sense_is_refused() -> None:
    for notes in ([], [ChartNote("xx", "A4")], [ChartNote("xxxxxz", "A4")]):
        with pytest.raises(ValueError, match=r"fingering|needs"):
            hole_chart(FLUTE, notes, 100.0, 70.0)
