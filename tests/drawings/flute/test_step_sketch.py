"""The small drawing of a step: from this flute's own numbers, readable, nothing over anything."""

import pytest

from acoustics.flute.instrument import Instrument
from tests.drawings.flutes import FLUTES, REAL_HEAD
from tests.drawings.reading import SVG, Drawing, numbers, points
from webapp.drawings.flute.step_sketch import step_sketch
from webapp.drawings.sheet.canvas import Theme
from webapp.models import Units
from webapp.shop.production.step_sizes import sizes
from webapp.shop.routings.built_in import BUILT_IN

EVERY = pytest.mark.parametrize("instrument", FLUTES.values(), ids=FLUTES.keys())
CODES = [step.code for step in BUILT_IN] + ["hole-3"]


def drawn(code: str, units: Units = Units.MM, flute: Instrument = REAL_HEAD) -> Drawing:
    found = step_sketch(code, flute, units, Theme.PAPER)
    assert found is not None
    return Drawing(found)


@EVERY
@pytest.mark.parametrize("units", list(Units))
def test_no_text_lies_over_another_or_off_the_sketch(instrument: Instrument, units: Units) -> None:
    for code in CODES:
        if sketch := step_sketch(code, instrument, units, Theme.PAPER):
            drawing = Drawing(sketch)
            assert drawing.collisions() == [], code
            assert drawing.outside() == [], code


def test_a_half_says_how_deep_it_is_milled() -> None:
    # A bore of 19.05 mm (3/4 in) is milled half as deep by a cutter as wide.
    assert {"Ø 19.05", "9.53 deep"} <= set(drawn("bore").words)
    assert {'Ø 0.750"', '0.375" deep'} <= set(drawn("bore", Units.INCH).words)


def test_the_hole_of_the_step_is_pointed_out_at_its_place() -> None:
    drawing = drawn("hole-3")
    assert {"3", "153.9"} <= set(drawing.words)
    assert "110.7" not in drawing.words
    holes = [numbers(node, "cx", "r") for node in drawing.part("holes").iter(f"{SVG}circle")]
    outline = points(next(drawing.part("holes").iter(f"{SVG}path")).attrib["d"])
    scale = (REAL_HEAD.foot_x + 6.1 + 0.5 + 4.0) / (max(x for x, _ in outline) - min(x for x, _ in outline))
    assert [2 * r * scale for _, r in holes] == pytest.approx([hole.diameter for hole in REAL_HEAD.holes], abs=0.05)


def test_the_edge_is_drawn_where_it_is_filed() -> None:
    assert {"edge 2.3", "wall 3.2", "flue 0.88"} <= set(drawn("edge").words)


def test_steps_without_a_place_on_the_flute_have_no_sketch() -> None:
    assert step_sketch("glue-up", REAL_HEAD, Units.MM) is None
    assert step_sketch("coat-1", REAL_HEAD, Units.MM) is None


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("bore", "round-nose cutter 19.05 mm, 9.53 mm deep"),
        ("plug-kerfs", "exit hole from \N{MINUS SIGN}38.1 mm to \N{MINUS SIGN}30.1 mm"),
        ("mouth", "breath hole 8 mm"),
        # The flat 2.1 mm deep on a radius of 14.825 is 2 sqrt(14.825^2 - 12.725^2) = 15.21 wide.
        ("seat", "2.1 mm deep, 15.21 mm wide"),
        ("flue", "9.1 mm wide, 0.88 mm deep as left"),
        ("edge", "tip 2.3 mm over the bore"),
        ("block-made", "48 mm × 15 mm × 14 mm high"),
        ("block", "its end 0.5 mm before the window"),
        # 534.45 mm and an allowance for the saw and the planer.
        ("halves", "finished 534.4 mm long"),
        ("cure", ""),
    ],
)
def test_sizes_that_no_gauge_says_stand_at_their_step(code: str, said: str) -> None:
    words = sizes(code, REAL_HEAD, Units.MM)
    assert said in words if said else not words
