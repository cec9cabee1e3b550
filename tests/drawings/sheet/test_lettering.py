"""Widths of words against Pillow, and the placing of labels."""

from itertools import pairwise

import pytest
from hypothesis import given, strategies as st

from tests.drawings.reading import SVG, Drawing, points
from webapp.drawings.sheet.canvas import Canvas, Theme
from webapp.drawings.sheet.lettering import spread, text_width
from webapp.drawings.sheet.notation import note_width, write_note


@pytest.mark.parametrize("words", ["132.0", 'Ø 13/64"', "slow air chamber", "−177.5"])
@pytest.mark.parametrize("weight", [400, 600, 700])
def test_widths_agree_with_pillow(words: str, weight: int) -> None:
    drawing = Drawing(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><text x="0" y="0" font-size="10" '
        f'font-weight="{weight}" text-anchor="start">{words.replace("&", "&amp;")}</text></svg>'
    )
    box = drawing.texts()[0]
    # Pillow kerns, we do not: a little wider is on the safe side.
    assert box.right - 0.05 <= text_width(words, 10, weight) <= box.right * 1.04 + 0.05


labels = st.lists(st.tuples(st.floats(0, 180), st.floats(3, 14)), min_size=1, max_size=10)


@given(labels)
def test_labels_never_touch_and_stay_on_the_sheet(places: list[tuple[float, float]]) -> None:
    places = sorted(places)
    wanted, widths = [x for x, _ in places], [width for _, width in places]
    centres = spread(wanted, widths, 0.0, 180.0, 1.5)
    boxes = [(c - w / 2, c + w / 2) for c, w in zip(centres, widths, strict=True)]
    assert all(a[1] + 1.5 <= b[0] + 1e-6 for a, b in pairwise(boxes))
    assert boxes[0][0] >= -1e-6
    assert boxes[-1][1] <= 180 + 1e-6


def test_labels_with_room_stay_where_they_belong() -> None:
    assert spread([20.0, 60.0, 100.0], [8.0, 8.0, 8.0], 0.0, 180.0, 1.5) == [20.0, 60.0, 100.0]


def test_crowded_labels_spread_evenly_around_their_middle() -> None:
    assert spread([50.0, 51.0], [9.0, 9.0], 0.0, 180.0, 1.0) == pytest.approx([45.5, 55.5])


@pytest.mark.parametrize("name", ["F#4", "F♯4", "Bb3", "B♭3"])
@pytest.mark.parametrize("anchor", ["start", "middle", "end"])
def test_accidentals_are_drawn_between_letter_and_octave(name: str, anchor: str) -> None:
    canvas = Canvas(Theme.PAPER)
    write_note(canvas, 20, 10, name, 5, anchor, 600)
    drawing = Drawing(canvas.svg((0, 0, 40, 20), "note", "", "drawing"))
    letter, octave = drawing.texts()
    assert (letter.words, octave.words) == (name[0], name[2])
    wide = note_width(name, 5, 600)
    assert octave.right - letter.left == pytest.approx(wide, abs=0.1)
    assert letter.left == pytest.approx(20 - {"start": 0, "middle": 0.5, "end": 1}[anchor] * wide, abs=0.1)
    xs = [x for node in drawing.root.iter(f"{SVG}path") for x, _ in points(node.attrib["d"].replace("C", "L"))]
    assert letter.right < min(xs) and max(xs) < octave.left


def test_what_is_no_note_is_written_as_it_is() -> None:
    canvas = Canvas(Theme.PAPER)
    for words in ("Cedar", "A4", "", "b"):
        write_note(canvas, 0, 5, words, 5)
    assert Drawing(canvas.svg((0, 0, 40, 20), "note", "", "drawing")).words == ["Cedar", "A4", "", "b"]
