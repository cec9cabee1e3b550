"""The traveler's PDF read back: complete, whole, true to its scale, and scannable."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from acoustics.flute.instrument import Instrument
from tests.paper.conftest import Printed
from tests.paper.reading import Drawn, codes, drawn, fonts, picture, sizes, text, words
from webapp.drawings.flute.frame import fitting_scale
from webapp.drawings.flute.parts import parts
from webapp.models import Paper, Units
from webapp.paper.press.sheets import SHEETS, SIDE, text_width
from webapp.paper.press.workers import Press
from webapp.paper.traveler.sheet import traveler_job

Made = Callable[[str, Paper, Units], Printed]
KINDS = [
    ("ordinary", Paper.LETTER, Units.MM),
    ("ordinary", Paper.A4, Units.INCH),
    ("longest", Paper.LETTER, Units.INCH),
    ("longest", Paper.A4, Units.MM),
]
each = pytest.mark.parametrize(("kind", "paper", "units"), KINDS)


@each
def test_two_pages_of_the_shops_paper(printed: Made, kind: str, paper: Paper, units: Units) -> None:
    assert sizes(printed(kind, paper, units).pdf) == [pytest.approx(SHEETS[paper], abs=0.01)] * 2


@each
def test_the_first_setting_tried_fits(printed: Made, kind: str, paper: Paper, units: Units, press: Press) -> None:
    job = traveler_job(printed(kind, paper, units).sent)
    assert len(sizes(press.print(replace(job, versions=job.versions[:1])))) == 2


@each
def test_every_text_sent_is_found(printed: Made, kind: str, paper: Paper, units: Units) -> None:
    made = printed(kind, paper, units)
    t, found = made.sent, squeezed(text(made.pdf))
    wanted = [t.serial, t.shop, t.key, t.scale, t.pitch, t.order, t.customer, t.due, t.wood, t.pattern, t.extras]
    wanted += [
        f"revision {t.revision}",
        *t.wood_cautions,
        "Local codes, the tool’s manual and qualified advice come first.",
    ]
    for stage in t.stages:
        wanted.append(f"{stage.number} {stage.name.capitalize()}")
        for step in stage.steps:
            caution = f"caution {step.letter} above" if step.as_above else step.caution
            wanted += [step.name, caution, step.gauge, step.wanted, step.limits, step.value, step.initials, step.when]
    for note in t.notes:
        wanted += [note.target, note.predicted, note.reading]
    wanted += [cell for row in t.hole_table.rows for cell in row]
    missing = [words for words in wanted if squeezed(words) not in found]
    assert missing == []


@each
def test_nothing_is_clipped_or_runs_off(printed: Made, kind: str, paper: Paper, units: Units) -> None:
    pdf = printed(kind, paper, units).pdf
    width, height = SHEETS[paper]
    for page in range(2):
        for word in words(pdf, page):
            assert SIDE - 0.3 <= word.left <= word.right <= width - SIDE + 0.3, word
            assert 6 <= word.bottom <= word.top <= height - 8, word
        for shape in drawn(pdf, page):
            left, bottom, right, top = shape.box
            assert SIDE - 0.6 <= left <= right <= width - SIDE + 0.6, shape
            assert 6 <= bottom <= top <= height - 8, shape


@each
def test_no_two_texts_lie_on_each_other(printed: Made, kind: str, paper: Paper, units: Units) -> None:
    pdf = printed(kind, paper, units).pdf
    for page in range(2):
        found = [word for word in words(pdf, page) if word.text.strip()]
        for index, one in enumerate(found):
            for other in found[index + 1 :]:
                across = min(one.right, other.right) - max(one.left, other.left)
                along = min(one.top, other.top) - max(one.bottom, other.bottom)
                assert across < 0.4 or along < 0.5, (one, other)


@each
def test_only_our_typefaces_all_embedded(printed: Made, kind: str, paper: Paper, units: Units) -> None:
    found = fonts(printed(kind, paper, units).pdf)
    assert all(found.values())
    assert {name.split("+")[1].rsplit("-Pro")[0] for name in found} == {"Source-Sans", "Source-Serif"}


@each
@pytest.mark.parametrize("dpi", [150, 300])
def test_the_code_leads_to_the_blanks_page(printed: Made, kind: str, paper: Paper, units: Units, dpi: int) -> None:
    made = printed(kind, paper, units)
    assert codes(picture(made.pdf, 0, dpi)) == [made.sent.address]


def test_the_code_is_read_when_it_is_20_mm_wide(printed: Made) -> None:
    made = printed("longest", Paper.A4, Units.MM)
    left, _, right, _ = next(s.box for s in drawn(made.pdf, 0) if s.operator.startswith("f") and len(s.points) > 500)
    whole = (right - left) * 45 / 37
    assert 20 <= whole <= 30
    # As from a sheet printed so small that the code is 20 mm wide, seen at 300 dots per inch.
    page = picture(made.pdf, 0, round(300 * 20 / whole))
    assert codes(page) == [made.sent.address]


@each
def test_the_drawing_is_true_to_the_scale_it_states(printed: Made, kind: str, paper: Paper, units: Units) -> None:
    made = printed(kind, paper, units)
    flute = made.sent.instrument
    scale = fitting_scale(parts(flute).length, text_width(paper) - 8)
    assert squeezed(f"Scale 1:{scale:g}.") in squeezed(text(made.pdf))
    shapes = drawn(made.pdf, 0)
    found = holes_of(flute, scale, shapes)
    edge = found[0].centre[0] - flute.holes[0].x / scale
    for hole, circle in zip((*flute.holes, *flute.foot_holes), found, strict=True):
        assert (circle.centre[0] - edge) * scale == pytest.approx(hole.x, abs=0.02)
        assert circle.width * scale == pytest.approx(hole.diameter, abs=0.02)
    ends = [end for s in shapes if s.height * scale > 20 for end in (s.box[0], s.box[2])]
    assert min(abs((end - edge) * scale - flute.foot_x) for end in ends) < 0.02


def holes_of(flute: Instrument, scale: float, shapes: list[Drawn]) -> list[Drawn]:
    """The circles that are as wide as the holes are, in a row."""
    wanted = {round(hole.diameter / scale, 2) for hole in (*flute.holes, *flute.foot_holes)}
    circles = [s for s in shapes if abs(s.width - s.height) < 1e-3 and len(s.points) > 8 and near(s.width, wanted)]
    axis = max(
        {round(c.centre[1], 2) for c in circles}, key=lambda y: sum(abs(c.centre[1] - y) < 0.01 for c in circles)
    )
    return sorted((c for c in circles if abs(c.centre[1] - axis) < 0.01), key=lambda c: c.centre[0])


def near(width: float, wanted: set[float]) -> bool:
    return any(abs(width - one) < 0.02 for one in wanted)


def squeezed(words: str) -> str:
    """Without white space: where a line breaks is no part of the text."""
    return "".join(words.split())
