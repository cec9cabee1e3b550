"""The working drawing, measured: what it shows is the geometry, to 0.05 mm of the flute."""

import re

import pytest

from acoustics.flute.instrument import Instrument
from tests.drawings.flutes import FLUTES, TAPERED, flute
from tests.drawings.reading import SVG, Drawing, numbers, points
from webapp.drawings.flute.dimensioned import dimensioned
from webapp.drawings.flute.parts import outside, parts

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
def test_the_foot_view_has_the_diameters_at_the_foot(instrument: Instrument) -> None:
    drawing = Drawing(dimensioned(instrument, theme="paper"))
    scale = scale_of(drawing)
    view = drawing.part("foot view")
    circles = [numbers(node, "r")[0] * 2 * scale for node in view.iter(f"{SVG}circle")]
    squares = [numbers(node, "width")[0] * scale for node in view.iter(f"{SVG}rect")]
    assert circles[-1] == pytest.approx(instrument.bore[-1][1], abs=CLOSE)
    assert (squares or circles)[0] == pytest.approx(outside(instrument, instrument.foot_x), abs=CLOSE)


def test_the_window_and_its_edge_are_open_in_the_section() -> None:
    instrument = flute()
    drawing = Drawing(dimensioned(instrument, theme="paper"))
    scale, origin = scale_of(drawing), origin_of(drawing, instrument)
    sides = [points(node.attrib["d"]) for node in drawing.part("window").iter(f"{SVG}path")][1:]
    back, edge = ([(x - origin) * scale for x, _ in side] for side in sides)
    assert back == pytest.approx([-5.5, -5.5], abs=CLOSE)
    # A 30 degree ramp through a wall of 3.6 mm runs 3.6 / tan 30 = 6.235 mm back to an edge at x = 0.
    assert edge == pytest.approx([6.235, 0.0], abs=CLOSE)


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


def test_the_mouth_end_is_measured_only_where_it_is_known() -> None:
    known = Drawing(dimensioned(flute(), mouth_end=15.0)).words
    assert {"−192.5", "484.5", "Whole length"} <= set(known)
    assert "Whole length" not in Drawing(dimensioned(flute())).words


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
