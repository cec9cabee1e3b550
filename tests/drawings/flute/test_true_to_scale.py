"""Printed to PDF by WeasyPrint and rendered by PDFium, the drawing measures what it says."""

import io

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray
from weasyprint import HTML

from tests.drawings.flutes import flute
from tests.drawings.reading import SVG, Drawing, numbers
from webapp.drawings.flute.dimensioned import dimensioned

PER_MM = 16  # pixels


@pytest.fixture(scope="module")
def printed() -> tuple[Drawing, NDArray[np.uint8]]:
    svg = dimensioned(flute(), "mm", width=180.0, theme="paper", mouth_end=12.0)
    page = f"<style>@page {{ size: letter; margin: 10mm }} body {{ margin: 0 }} svg {{ display: block }}</style>{svg}"
    pdf = HTML(string=page).write_pdf()
    assert pdf is not None
    with pypdfium2.PdfDocument(io.BytesIO(pdf)) as document:
        picture = document[0].render(scale=PER_MM * 25.4 / 72, grayscale=True).to_numpy()
    return Drawing(svg), picture.reshape(picture.shape[0], -1)


def dark_run(row: NDArray[np.uint8]) -> tuple[float, float]:
    """First and last dark point of a row of pixels, in mm from the paper's edge."""
    dark = np.nonzero(row < 110)[0]
    return dark[0] / PER_MM, (dark[-1] + 1) / PER_MM


def test_the_scale_bar_is_as_long_on_paper_as_its_words_say(
    printed: tuple[Drawing, NDArray[np.uint8]],
) -> None:
    drawing, picture = printed
    fields = list(drawing.part("scale").iter(f"{SVG}rect"))
    x, y, wide, high = numbers(fields[0], "x", "y", "width", "height")
    words = next(text for text in drawing.words if text.endswith(" cm"))
    scale = float(next(text for text in drawing.words if text.startswith("Scale")).split(":")[1].split(". ")[0])
    row = picture[round((10 + y) * PER_MM), : round((10 + x + wide * len(fields) + 2) * PER_MM)]
    left, right = dark_run(row)
    line = 0.2  # the outline stands half outside on either side
    assert (right - left - line) * scale == pytest.approx(float(words.split()[0]) * 10, abs=0.3)
    assert high > 0


def test_the_body_is_as_long_on_paper_as_the_flute_at_that_scale(
    printed: tuple[Drawing, NDArray[np.uint8]],
) -> None:
    drawing, picture = printed
    outline = drawing.part("plan").find(f"{SVG}path")
    assert outline is not None
    ys = [float(item) for item in outline.attrib["d"].replace("Z", "").split() if item not in "ML"][1::2]
    left, right = dark_run(picture[round((10 + min(ys)) * PER_MM)])
    # 150 chamber + 12 mouth end + 22 flue + 5.5 window + 292 to the foot, at 1:3, with a line of 0.32 mm around.
    assert right - left - 0.32 == pytest.approx((150 + 12 + 22 + 5.5 + 292) / 3, abs=0.1)
