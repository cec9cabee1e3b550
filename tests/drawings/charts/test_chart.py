"""The fingering chart and the bars of cents."""

import itertools

import pytest

from tests.drawings.reading import SVG, Drawing, numbers
from webapp.drawings.charts.cents import BarNote, cents_bars
from webapp.drawings.charts.fingering import ChartNote, fingering_chart

SIX = [
    ChartNote("xxxxxx", "A4", 0.4),
    ChartNote("xxxxxo", "C5", -3.2),
    ChartNote("xxxxoo", "D♯5", 6.4),
    ChartNote("xxxooo", "E5", -12.0),
    ChartNote("xxoxoo", "G5", 28.0),
    ChartNote("oxxxxx", "A5", None),
]
FIVE = [ChartNote("xxxxx", "C6"), ChartNote("ooooo", "C7")]


@pytest.mark.parametrize("notes", [SIX, FIVE, SIX[:1]])
@pytest.mark.parametrize("theme", ["paper", "page"])
@pytest.mark.parametrize("columns", [None, 2])
def test_nothing_lies_over_anything(notes: list[ChartNote], theme: str, columns: int | None) -> None:
    drawing = Drawing(fingering_chart(notes, theme, columns=columns))
    assert drawing.collisions() == []
    assert drawing.outside() == []


def test_discs_are_filled_where_a_finger_lies() -> None:
    drawing = Drawing(fingering_chart(SIX, "paper"))
    for note in SIX:
        discs = drawing.part(f"note {note.name} {note.fingering}").iter(f"{SVG}circle")
        assert "".join("x" if disc.get("fill") == "#000000" else "o" for disc in discs) == note.fingering


def test_the_hands_are_set_apart_three_of_six_and_two_of_five() -> None:
    for notes, upper in ((SIX, 3), (FIVE, 2)):
        note = notes[0]
        discs = Drawing(fingering_chart(notes)).part(f"note {note.name} {note.fingering}").iter(f"{SVG}circle")
        ys = [numbers(disc, "cy")[0] for disc in discs]
        steps = [round(b - a, 3) for a, b in itertools.pairwise(ys)]
        assert steps.index(max(steps)) == upper - 1


def test_bars_rise_for_sharp_and_fall_for_flat_in_proportion() -> None:
    drawing = Drawing(fingering_chart(SIX, "paper"))
    bars = {}
    for note in SIX[1:4]:
        rect = drawing.part(f"note {note.name} {note.fingering}").find(f"{SVG}rect")
        assert rect is not None
        bars[note.name] = numbers(rect, "y", "height")
    target = bars["C5"][0]  # a flat note's bar hangs from the target line
    assert bars["E5"][0] == target
    assert sum(bars["D♯5"]) == pytest.approx(target, abs=1e-3)
    assert bars["E5"][1] / bars["C5"][1] == pytest.approx(12.0 / 3.2, rel=0.01)
    assert bars["D♯5"][1] / bars["C5"][1] == pytest.approx(6.4 / 3.2, rel=0.01)


def test_cents_stand_as_figures_too() -> None:
    words = Drawing(fingering_chart(SIX)).words
    assert {"0", "−3", "+6", "−12", "+28"} <= set(words)
    assert "+28" not in Drawing(fingering_chart(SIX, show_cents=False)).words


@pytest.mark.parametrize(
    ("notes", "word"),
    [
        ([], "notes"),
        ([ChartNote("xxoy", "A4")], "fingering"),
        ([ChartNote("xx", "A4"), ChartNote("x", "C5")], "fingering"),
    ],
)
def test_an_impossible_chart_is_refused(notes: list[ChartNote], word: str) -> None:
    with pytest.raises(ValueError, match=word):
        fingering_chart(notes)


BARS = [
    BarNote("xxxxxx", "A4", 0.4, -2.0, believed=(0.4, 1.0)),
    BarNote("xxxxxo", "C♯5", -4.9, believed=(-3.0, 1.5)),
    BarNote("xxxxoo", "D5", 5.4),
    BarNote("xxxooo", "E5", None, 3.0),
    BarNote("xxoxoo", "G5", -12.4, old=True, believed=(-15.0, 2.0)),
    BarNote("oxxxxx", "A5", 88.0),
]


@pytest.mark.parametrize("theme", ["paper", "page"])
@pytest.mark.parametrize("width", [105.0, 120.0, 180.0])
def test_no_verdict_lies_over_another_text(theme: str, width: float) -> None:
    drawing = Drawing(cents_bars(BARS, theme, width=width))
    assert drawing.collisions() == []
    assert drawing.outside() == []


def test_flat_in_tune_and_sharp_are_said_in_words() -> None:
    words = Drawing(cents_bars(BARS)).words
    # 5.4 is beyond a tolerance of 5 and must not read as "5 sharp".
    assert {"in tune, 0", "in tune, −5", "5.4 sharp", "not read", "about −15", "88 sharp"} <= set(words)
    description = Drawing(cents_bars(BARS)).root.find(f"{SVG}desc")
    assert description is not None and "G5: read −12 before the last cut, believed to stand at −15, give or take 4" in (
        description.text or ""
    )


def test_a_bar_is_as_long_as_its_cents_and_ends_at_the_scales_end() -> None:
    drawing = Drawing(cents_bars(BARS, "paper", width=180.0))
    lines = [numbers(node, "x1", "x2", "y1") for node in drawing.root.iter(f"{SVG}line")]
    grid = sorted({x1 for x1, x2, _ in lines if x1 == x2 and x1 not in (0.0,)})
    per_cent = (max(grid) - min(grid)) / 40  # the outermost grid lines are at -20 and +20
    middle = (max(grid) + min(grid)) / 2
    disc = list(drawing.part("note A4 xxxxxx").iter(f"{SVG}circle"))[-1]
    assert numbers(disc, "cx")[0] == pytest.approx(middle + 0.4 * per_cent, abs=0.01)
    [old] = [node for node in drawing.part("note G5 xxoxoo").iter(f"{SVG}rect") if "stroke-dasharray" in node.attrib]
    assert numbers(old, "x")[0] == pytest.approx(middle - 12.4 * per_cent, abs=0.01)
    tip = [float(item) for item in _head(drawing, "note D5 xxxxoo").split() if item not in "MLZ"][2]
    assert tip == pytest.approx(middle + 5.4 * per_cent, abs=0.01)
    off = [float(item) for item in _head(drawing, "note A5 oxxxxx").split() if item not in "MLZ"][2]
    assert off == pytest.approx(middle + 30 * per_cent, abs=0.01)


def _head(drawing: Drawing, part: str) -> str:
    head = drawing.part(part).find(f"{SVG}path")
    assert head is not None
    return head.attrib["d"]


@pytest.mark.parametrize(("notes", "width", "word"), [([], 120.0, "notes"), (BARS, 60.0, "width")])
def test_bars_without_notes_or_room_are_refused(notes: list[BarNote], width: float, word: str) -> None:
    with pytest.raises(ValueError, match=word):
        cents_bars(notes, width=width)
