"""Labels lie where the sheet has them, to a tenth of a millimetre, and their codes are read back from the print."""

import pytest
import zxingcpp

from tests.paper.reading import picture, sizes, words
from webapp.paper.press.workers import Press
from webapp.paper.shelf.labels import SHEETS, Label, labels_job

DPI = 300


def some(count: int) -> list[Label]:
    return [
        Label(
            f"{n} black walnut",
            ("board", "walnut, wide, from the windfall", '84 1/4" × 7 15/32"'),
            f"http://192.168.1.20:8000/stock/{n}",
        )
        for n in range(1, count + 1)
    ]


@pytest.mark.parametrize("code", SHEETS)
def test_a_sheet_holds_its_labels(code: str) -> None:
    sheet = SHEETS[code]
    right = sheet.left + (sheet.across - 1) * sheet.pitch_x + sheet.width
    bottom = sheet.top + (sheet.down - 1) * sheet.pitch_y + sheet.height
    # As much paper is left at the right as at the left, at the foot as at the head: such sheets are symmetrical.
    assert sheet.paper[0] - right == pytest.approx(sheet.left, abs=0.05)
    assert sheet.paper[1] - bottom == pytest.approx(sheet.top, abs=0.05)
    assert sheet.pitch_x >= sheet.width
    assert sheet.pitch_y >= sheet.height
    for wrong in (0, sheet.count + 1):
        with pytest.raises(ValueError, match="start"):
            labels_job(some(1), sheet, wrong)


@pytest.mark.parametrize(
    ("code", "start", "count"), [("letter-30", 5, 30), ("a4-21", 21, 4), ("a4-40", 1, 2), ("roll", 1, 2)]
)
def test_labels_are_printed_in_their_places(press: Press, code: str, start: int, count: int) -> None:
    sheet = SHEETS[code]
    labels = some(count)
    pdf = press.print(labels_job(labels, sheet, start))
    pages = -(-(start - 1 + count) // sheet.count)
    assert sizes(pdf) == [pytest.approx(sheet.paper, abs=0.05)] * pages
    found: dict[str, tuple[int, float, float]] = {}
    for page in range(pages):
        image = picture(pdf, page, DPI)
        for one in zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCode):
            corner = one.position.top_left
            found[one.text] = (page, corner.x * 25.4 / DPI, corner.y * 25.4 / DPI)
    assert sorted(found) == sorted(label.address for label in labels)
    side = min(sheet.height - 2.0, 30.0)
    for n, label in enumerate(labels, start=start - 1):
        page, position = divmod(n, sheet.count)
        x, y = sheet.place(position)
        # Four modules of quiet zone around a code of 33 (version 4) or 29 (version 3) modules.
        modules = 33 if len(label.address) > 32 else 29
        quiet = 4 * side / (modules + 8)
        at_page, at_x, at_y = found[label.address]
        assert at_page == page
        assert at_x == pytest.approx(x + 0.8 + quiet, abs=0.25)
        assert at_y == pytest.approx(y + min((sheet.height - side) / 2, 3.0) + quiet, abs=0.25)
    # No word reaches beyond its label.
    for word in words(pdf, 0):
        if word.text.strip():
            inside = [
                sheet.place(p)
                for p in range(sheet.count)
                if sheet.place(p)[0] <= word.left
                and word.right <= sheet.place(p)[0] + sheet.width
                and sheet.place(p)[1] <= sheet.paper[1] - word.top
                and sheet.paper[1] - word.bottom <= sheet.place(p)[1] + sheet.height
            ]
            assert inside, word


@pytest.mark.parametrize("code", SHEETS)
def test_the_longest_label_ends_in_dots_and_never_within_a_letter(press: Press, code: str) -> None:
    lines = (
        "halves, restricted wood",
        "rosewood, wide, " * 7,
        '84 1/4" × 7 15/32" × 1 3/16"',
        "loft, left of the stairs · " * 3,
    )
    label = Label("10482 rosewood (Dalbergia retusa)", lines, "http://192.168.1.20:8000/stock/10482")
    sheet = SHEETS[code]
    pdf = press.print(labels_job([label], sheet, 1))
    x, y = sheet.place(0)
    seen = [word for word in words(pdf, 0) if word.text.strip()]
    for word in seen:
        assert word.left >= x and word.right <= x + sheet.width - 1, word
        # What is left out is left out by whole lines, and dots say so.
        assert sheet.paper[1] - word.top >= y and sheet.paper[1] - word.bottom <= y + sheet.height - 0.6, word
    said = " ".join(word.text for word in seen)
    assert "\N{HORIZONTAL ELLIPSIS}" in said, said
    assert "10482" in said and "loft" in said and "halves" in said, said
