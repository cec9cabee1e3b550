"""Reading a PDF back: its text, its lines in millimetres, its fonts, its picture."""

from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from typing import Any

import pypdfium2 as pdfium
import zxingcpp
from PIL.Image import Image
from pypdf import PageObject, PdfReader
from pypdf.generic import ContentStream

POINT = 25.4 / 72  # mm
Matrix = tuple[float, float, float, float, float, float]
Point = tuple[float, float]


@dataclass(frozen=True)
class Word:
    """A run of text and the box of its ink, in mm from the sheet's lower left corner."""

    text: str
    left: float
    bottom: float
    right: float
    top: float


@dataclass(frozen=True)
class Drawn:
    """One painted path: its points in mm from the sheet's lower left corner, and the operator that painted it."""

    points: tuple[Point, ...]
    operator: str
    clipped: bool

    @property
    def box(self) -> tuple[float, float, float, float]:
        xs, ys = [x for x, _ in self.points], [y for _, y in self.points]
        return min(xs), min(ys), max(xs), max(ys)

    @property
    def width(self) -> float:
        return self.box[2] - self.box[0]

    @property
    def height(self) -> float:
        return self.box[3] - self.box[1]

    @property
    def centre(self) -> Point:
        left, bottom, right, top = self.box
        return (left + right) / 2, (bottom + top) / 2


def sizes(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of each page in mm."""
    return [(float(p.mediabox.width) * POINT, float(p.mediabox.height) * POINT) for p in PdfReader(BytesIO(pdf)).pages]


def text(pdf: bytes) -> str:
    """All text of all pages, every run of white space as one space; a hyphen at a line's end as what it is."""
    document = pdfium.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_range().replace("\ufffe", "-").split()) for page in document)


def words(pdf: bytes, page: int) -> list[Word]:
    """The text of one page by the rectangles that pdfium finds it in."""
    textpage = pdfium.PdfDocument(pdf)[page].get_textpage()
    found = []
    for index in range(textpage.count_rects()):
        box = textpage.get_rect(index)
        found.append(Word(textpage.get_text_bounded(*box), *(side * POINT for side in box)))
    return found


def picture(pdf: bytes, page: int, dpi: int = 200) -> Image:
    """One page as a grey picture."""
    return pdfium.PdfDocument(pdf)[page].render(scale=dpi / 72, grayscale=True).to_pil()


def codes(image: Image) -> list[str]:
    """The texts of all QR codes in a picture."""
    return [code.text for code in zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCode)]


def fonts(pdf: bytes) -> dict[str, bool]:
    """Each font of the file by name, and whether its outlines are embedded."""
    found = {}
    for page in PdfReader(BytesIO(pdf)).pages:
        for ref in page["/Resources"].get("/Font", {}).values():  # type: ignore[attr-defined]
            for descendant in ref.get_object().get("/DescendantFonts", [ref]):
                descriptor = descendant.get_object()["/FontDescriptor"].get_object()
                found[str(descriptor["/FontName"])] = any(f"/FontFile{n}" in descriptor for n in ("", "2", "3"))
    return found


def drawn(pdf: bytes, page: int) -> list[Drawn]:
    """Everything that is stroked or filled on a page, in the order of painting, drawings inside drawings included."""
    reader = PdfReader(BytesIO(pdf))
    sheet = reader.pages[page]
    content = sheet.get_contents()
    assert content is not None
    return list(_paint(content.operations, sheet, (POINT, 0, 0, POINT, 0, 0), reader))


def _paint(operations: Any, owner: PageObject | Any, matrix: Matrix, reader: PdfReader) -> Iterator[Drawn]:
    saved: list[Matrix] = []
    points: list[Point] = []
    clips = False
    before = ""
    for operands, operator in operations:
        name = operator.decode()
        numbers = [float(value) for value in operands if isinstance(value, int | float)]
        if name == "q":
            saved.append(matrix)
        elif name == "Q":
            matrix = saved.pop()
        elif name == "cm":
            matrix = _times(tuple(numbers), matrix)  # type: ignore[arg-type]
        elif name in ("m", "l", "c", "v", "y"):
            if name == "m" and before == "m":
                points.pop()  # a place that was moved to and left again draws nothing
            points += [_at(matrix, numbers[i], numbers[i + 1]) for i in range(0, len(numbers), 2)]
        elif name == "re":
            x, y, w, h = numbers
            points += [_at(matrix, *corner) for corner in ((x, y), (x + w, y), (x + w, y + h), (x, y + h))]
        elif name in ("W", "W*"):
            clips = True
        elif name in ("S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "n"):
            if points and name != "n":
                yield Drawn(tuple(points), name, clips)
            points, clips = [], False
        elif name == "Do":
            form = owner["/Resources"]["/XObject"][operands[0]].get_object()
            if form["/Subtype"] == "/Form":
                inner = _times(tuple(float(v) for v in form.get("/Matrix", (1, 0, 0, 1, 0, 0))), matrix)  # type: ignore[arg-type]
                yield from _paint(ContentStream(form, reader).operations, form, inner, reader)
        before = name


def _times(a: Matrix, b: Matrix) -> Matrix:
    return (
        a[0] * b[0] + a[1] * b[2],
        a[0] * b[1] + a[1] * b[3],
        a[2] * b[0] + a[3] * b[2],
        a[2] * b[1] + a[3] * b[3],
        a[4] * b[0] + a[5] * b[2] + b[4],
        a[4] * b[1] + a[5] * b[3] + b[5],
    )


def _at(m: Matrix, x: float, y: float) -> Point:
    return x * m[0] + y * m[2] + m[4], x * m[1] + y * m[3] + m[5]
