"""The working drawing, measured: what it shows is the geometry, to 0.05 mm of the flute."""

import math
import re

import pytest

from acoustics.flute.instrument import Instrument
from tests.drawings.flutes import FLUTES, REAL_HEAD, TAPERED, flute
from tests.drawings.reading import SVG, Drawing, numbers, points
from webapp.drawings.flute.dimensioned import dimensioned
from webapp.drawings.flute.parts import parts

EVERY = pytest.mark.parametrize("instrument", FLUTES.values(), ids=FLUTES.keys())
CLOSE = 0.05  # mm of the flute


def scale_of(drawing: Drawing) -> float:
    stated = next(words for words in drawing.words if words.startswith("Scale 1:"))
    found = re.match(r"Scale 1:(\d+(?:\.\d+)?)", stated)
    assert found
    return float(found[1])


def origin_of(drawing: Drawing, instrument: Instrument) -> float:
    """Where x = 0 lies on the sheet, from the outline of the body: its right end is the foot."""
    outline = drawing.part("plan").find(f"{SVG}path")
    assert outline is not None
    return max(x for x, _ in points(outline.attrib["d"])) - instrument.foot_x / scale_of(drawing)


@EVERY
@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize("theme", ["paper", "page"])
def test_no_text_lies_over_another_or_off_the_sheet(instrument: Instrument, units: str, theme: str) -> None:
    drawing = Drawing(dimensioned(instrument, units, theme=theme, mouth_end=12.0))
    assert drawing.collisions() == []
    assert drawing.outside() == []


@EVERY
def test_its_outer_size_is_its_view_box_in_millimetres(instrument: Instrument) -> None:
    drawing = Drawing(dimensioned(instrument, width=170.0, theme="paper"))
    assert drawing.box[:3] == (0, 0, 170)
    assert drawing.root.attrib["width"] == "170mm"
    assert float(drawing.root.attrib["height"].removesuffix("mm")) == drawing.box[3]


@EVERY
def test_holes_lie_where_they_are_to_be_drilled(instrument: Instrument) -> None:
    drawing = Drawing(dimensioned(instrument, theme="paper"))
    scale, origin = scale_of(drawing), origin_of(drawing, instrument)
    plan = drawing.part("plan")
    holes = next(node for node in plan.iter(f"{SVG}g") if node.get("data-part") == "holes")
    circles = [numbers(node, "cx", "r") for node in holes.iter(f"{SVG}circle")]
    wanted = [(hole.x, hole.diameter) for hole in (*instrument.holes, *instrument.foot_holes)]
    assert len(circles) == len(wanted)
    for (cx, r), (x, diameter) in zip(circles, wanted, strict=True):
        assert (cx - origin) * scale == pytest.approx(x, abs=CLOSE)
        assert 2 * r * scale == pytest.approx(diameter, abs=CLOSE)


@EVERY
def test_the_section_has_the_bore_the_chamber_and_the_outside(instrument: Instrument) -> None:
    drawing = Drawing(dimensioned(instrument, theme="paper"))
    scale, origin = scale_of(drawing), origin_of(drawing, instrument)
    bore = drawing.part("bore").find(f"{SVG}path")
    assert bore is not None
    shape = points(bore.attrib["d"])
    upper = shape[: len(shape) // 2]
    lower = shape[len(shape) // 2 :][::-1]
    for (x, diameter), (x1, y1), (x2, y2) in zip(instrument.bore, upper, lower, strict=True):
        assert ((x1 - origin) * scale, (x2 - origin) * scale) == pytest.approx((x, x), abs=CLOSE)
        assert (y2 - y1) * scale == pytest.approx(diameter, abs=CLOSE)
    assert drawing.has("chamber") == (instrument.chamber is not None)
    if instrument.chamber:
        rect = drawing.part("chamber").find(f"{SVG}rect")
        assert rect is not None
        x, wide, high = numbers(rect, "x", "width", "height")
        place = parts(instrument)
        assert (x - origin) * scale == pytest.approx(place.plug[0] - instrument.chamber.length, abs=CLOSE)
        assert wide * scale == pytest.approx(instrument.chamber.length, abs=CLOSE)
        assert high * scale == pytest.approx(instrument.chamber.diameter, abs=CLOSE)
    outline = drawing.part("outline").find(f"{SVG}path")
    assert outline is not None
    ends = points(outline.attrib["d"])
    assert (max(x for x, _ in ends) - origin) * scale == pytest.approx(instrument.foot_x, abs=CLOSE)


@EVERY
def test_the_cut_across_has_outside_bore_seat_and_flue(instrument: Instrument) -> None:
    across = Drawing(dimensioned(instrument, theme="paper")).part("across")
    (bore,) = (numbers(node, "r")[0] for node in across.iter(f"{SVG}circle") if node.get("stroke-dasharray"))
    scale = instrument.bore_diameter(0.0) / 2 / bore
    r, flat = (instrument.bore_diameter(0.0) / 2 + wall for wall in (instrument.body.wall, instrument.window_wall))
    wide = 2 * r if instrument.body.outside == "flat" else 2 * math.sqrt(r * r - flat * flat)
    said = [node.text or "" for node in across.iter(f"{SVG}text")]
    assert any(abs(float(words.split()[1]) - wide) < 0.01 for words in said if words.startswith("seat"))
    shapes = [node.attrib["d"] for node in across.iter(f"{SVG}path")]
    body = [float(n) for n in re.findall(r"-?\d+\.?\d*", shapes[0])]
    assert (max(body[0::2]) if "A" not in shapes[0] else body[2]) > 0
    assert abs(body[0] - (body[-2] if "A" in shapes[0] else body[2])) * scale == pytest.approx(wide, abs=CLOSE)
    if instrument.flue:
        flue = points(shapes[2])
        assert (max(x for x, _ in flue) - min(x for x, _ in flue)) * scale == pytest.approx(
            instrument.flue.width, abs=CLOSE
        )
        assert (max(y for _, y in flue) - min(y for _, y in flue)) * scale == pytest.approx(
            instrument.flue.depth, abs=CLOSE
        )


def edge_of(drawing: Drawing, instrument: Instrument) -> list[tuple[float, float]]:
    """The foot side of the window in the section, from the flat down: along the axis, and over the bore [mm]."""
    scale, origin = scale_of(drawing), origin_of(drawing, instrument)
    bore = points(next(drawing.part("bore").iter(f"{SVG}path")).attrib["d"])
    roof = min(y for _, y in bore)
    side = points(list(drawing.part("window").iter(f"{SVG}path"))[2].attrib["d"])
    return [((x - origin) * scale, (roof - y) * scale) for x, y in side]


def test_the_splitting_edge_lies_at_its_height_above_the_bore() -> None:
    # A 30 degree ramp rises from the tip at 2.3 to the flat at 3.2 mm in 0.9 / tan 30 = 1.559 mm; upright below.
    (ramp, flat), (tip, height), (foot, roof) = edge_of(Drawing(dimensioned(REAL_HEAD, theme="paper")), REAL_HEAD)
    assert (ramp, tip, foot) == pytest.approx((1.559, 0.0, 0.0), abs=CLOSE)
    assert (flat, height, roof) == pytest.approx((3.2, 2.3, 0.0), abs=CLOSE)


def test_an_edge_of_unknown_height_is_drawn_level_with_the_flue_and_said_to_be() -> None:
    drawing = Drawing(dimensioned(flute(), theme="paper"))
    # Wall at the window 3.6 less the flue's depth of 0.8: at the bore, where a jet would miss it, nobody wants one.
    assert edge_of(drawing, flute())[1] == pytest.approx((0.0, 2.8), abs=CLOSE)
    assert "30°, 2.8 above the bore, level with the flue" in drawing.words
    floor = drawing.part("flue").find(f"{SVG}line")
    assert floor is not None
    bore = points(next(drawing.part("bore").iter(f"{SVG}path")).attrib["d"])
    over = (min(y for _, y in bore) - numbers(floor, "y1")[0]) * scale_of(drawing)
    assert over == pytest.approx(2.8, abs=CLOSE)


def test_the_detail_dimensions_edge_wall_flue_cut_up_stub_and_setback() -> None:
    for units, sizes in (
        ("mm", {"edge 2.3", "wall 3.2", "flue 0.88", "cut-up 6.1", "stub 3.0", "setback 0.5"}),
        # 2.3 mm is 0.0906 in, 3.2 is 0.1260, 0.88 is 0.0346: files and gauges work in thousandths.
        ("inch", {'edge 0.091"', 'wall 0.126"', 'flue 0.035"', 'cut-up 0.240"'}),
    ):
        words = [n.text for n in Drawing(dimensioned(REAL_HEAD, units)).part("detail").iter(f"{SVG}text")]
        assert sizes <= set(words), words


def test_the_breath_hole_opens_the_mouth_end_and_the_exit_hole_leads_to_the_flue() -> None:
    drawing = Drawing(dimensioned(REAL_HEAD, theme="paper"))
    scale, origin, place = scale_of(drawing), origin_of(drawing, REAL_HEAD), parts(REAL_HEAD)
    mouth = origin + place.mouth / scale
    ends = [
        sorted(numbers(node, "y1", "y2"))
        for node in drawing.part("outline").iter(f"{SVG}line")
        if numbers(node, "x1", "x2") == pytest.approx((mouth, mouth), abs=0.01)
    ]
    (upper, lower) = sorted(ends)
    assert (lower[0] - upper[1]) * scale == pytest.approx(8.0, abs=CLOSE)
    back, front = [points(n.attrib["d"]) for n in drawing.part("exit hole").iter(f"{SVG}path")][1:]
    start = -REAL_HEAD.window.length - 24.0
    assert [(x - origin) * scale for x, _ in (*back, *front)] == pytest.approx(
        [start - 8, start - 8, start, start], abs=CLOSE
    )


def test_all_that_a_maker_needs_is_said() -> None:
    words = set(Drawing(dimensioned(REAL_HEAD)).words)
    # 328.35 + 6.1 + 24 + 164 + 12; the flat 2.1 deep on a radius of 14.825 is 2 sqrt(14.825^2 - 12.725^2) = 15.21 wide.
    assert {"534.45", "12.0 solid, breath hole Ø 8.0", "21.0 long; exit hole 8.0 × 9.1"} <= words
    assert {"64.0 × 15.21, planed 2.1 deep", "48.0 × 15.0 × 14.0 high, 0.5 back", "30°, 2.3 above the bore"} <= words


def test_each_hole_has_its_number_position_and_diameter() -> None:
    words = Drawing(dimensioned(flute(), theme="paper")).words
    for number, (x, diameter) in enumerate(((132, 7), (156, 7.5), (181, 7.9), (212, 7), (237, 8), (258, 6.5)), 1):
        assert {str(number), f"{x:.1f}", f"Ø {diameter:.1f}"} <= set(words)
    assert {"foot hole", "280.0", "292.0", "−5.5", "−9.0", "0"} <= set(words)


def test_in_inches_a_drawing_has_inches_alone() -> None:
    words = Drawing(dimensioned(flute(holes=((127.0, 7.9375),), foot_holes=()), "inch", theme="paper")).words
    # One inch is 25.4 mm by definition (international yard and pound agreement, 1959).
    at = words.index('5"')
    assert words[at - 1 : at + 2] == ["1", '5"', 'Ø 5/16"']
    assert not [word for word in words if word.endswith("mm") or word in ("127.0", "7.94")]


def test_a_wall_or_an_undercut_of_its_own_is_said_at_the_hole() -> None:
    words = Drawing(dimensioned(TAPERED, theme="paper")).words
    assert words.count("undercut 0.5") == 2
    assert words.count("wall 4.0") == 2


def test_the_mouth_end_may_be_longer() -> None:
    assert {"−192.5", "484.5", "Overall length"} <= set(Drawing(dimensioned(flute(), mouth_end=15.0)).words)


def test_a_hole_can_be_pointed_out() -> None:
    plain, marked = (dimensioned(flute(), mark_hole=mark).count("<circle") for mark in (None, 3))
    assert marked == plain + 1


def test_on_paper_it_brings_its_colours_and_on_a_page_it_takes_the_pages() -> None:
    paper, page = dimensioned(flute(), theme="paper"), dimensioned(flute(), theme="page")
    root = Drawing(paper).root
    assert not [node for node in root.iter() if node is not root and "class" in node.attrib]
    assert {node.get("stroke") for node in root.iter()} <= {None, "#000000", "#404040", "#8c8c8c", "#ffffff"}
    assert "s-ink" in page and "#000000" not in page
    assert "style=" not in paper + page


def test_the_same_flute_gives_the_same_drawing() -> None:
    assert dimensioned(flute(), "inch") == dimensioned.__wrapped__(flute(), "inch")


def test_a_scale_may_be_asked_for_and_is_refused_where_it_does_not_fit() -> None:
    assert scale_of(Drawing(dimensioned(flute(), scale=5.0))) == 5
    with pytest.raises(ValueError, match="scale"):
        dimensioned(flute(), scale=1.0)
    with pytest.raises(ValueError, match="width"):
        dimensioned(flute(), width=30.0)


def test_a_screen_reader_hears_the_lengths() -> None:
    root = Drawing(dimensioned(flute())).root
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert root.get("role") == "img"
    assert title is not None and title.text == "Working drawing"
    assert description is not None and "hole 1 at 132.0 mm, 7.0 mm across" in (description.text or "")
