"""The small drawing of the bench: whole within its sheet, and the mark where the cut is to be made."""

import re

import pytest

from tests.drawings.flutes import flute
from webapp.drawings.flute.at_hand import WIDTH, at_hand


def arrow_x(svg: str) -> float:
    """Where the point of the mark stands."""
    found = re.search(r'data-part="cut here">.*?d="M ?([\d.]+)[ ,]', svg, re.S)
    assert found
    return float(found[1])


def hole_xs(svg: str) -> list[float]:
    holes = re.search(r'data-part="holes">(.*?)</g>', svg, re.S)
    assert holes
    return sorted({float(x) for x in re.findall(r'cx="([\d.]+)"', holes[1])})


@pytest.mark.parametrize("cut", [1, 3, len(flute().holes)])
def test_the_hole_to_open_is_pointed_at(cut: int) -> None:
    svg = str(at_hand(flute(), cut))
    assert arrow_x(svg) == pytest.approx(hole_xs(svg)[cut - 1], abs=0.01)


def test_the_foot_is_marked_at_the_end() -> None:
    svg = str(at_hand(flute(), 0))
    assert arrow_x(svg) > max(hole_xs(svg))
    assert arrow_x(svg) == pytest.approx(WIDTH - 6.0, abs=0.01)
    assert "the foot marked" in svg


def test_nothing_is_marked_where_nothing_is_to_be_cut() -> None:
    assert "cut here" not in str(at_hand(flute()))


def test_it_is_whole_within_its_sheet() -> None:
    svg = str(at_hand(flute(), 0))
    xs = [float(x) for x in re.findall(r'(?<![a-z])(?:x|x1|x2|cx)="(-?[\d.]+)"', svg)]
    assert xs and min(xs) >= 0 and max(xs) <= WIDTH
