"""A board from above, to scale, with its flaws, its crosscut and its numbered pieces."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from webapp.drawings.blank.wood import darker, is_dark, lighter
from webapp.drawings.sheet.canvas import Canvas, Theme
from webapp.drawings.sheet.lettering import text_width

WIDE = 180.0  # units across the drawing for the longest board on the page
TEXT = 3.6
SMALL = 3.0
LEFT, TOP = 1.0, 8.0


@dataclass(frozen=True, slots=True)
class Mark:
    """A flaw [mm]: from `start` to `end` along the board, from `near` to `far` across it."""

    start: float
    end: float
    near: float
    far: float


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece in a board [mm]: `number` stands on it, or `2 x 7` where it is resawn into two."""

    x: float
    y: float
    length: float
    width: float
    number: str


def one_after_another(pictures: Iterable[Markup]) -> Markup:
    """Several boards, each a drawing of its own."""
    return Markup().join(pictures)


def board_picture(
    title: str,
    length: float,
    width: float,
    measure: Callable[[float], str],
    marks: Sequence[Mark] = (),
    pieces: Sequence[Piece] = (),
    sawn: float | None = None,
    running: Sequence[float] = (),
    longest: float | None = None,
    colour: str = "#c9a777",
    theme: Theme | str = Theme.PAGE,
) -> Markup:
    """A board `length` by `width` [mm], its marked end at the left, at the scale at which `longest` fills the sheet.

    `sawn` is the length that is sawn up, `running` where along the board it is cut: measures from the marked end, as
    far as there is room for them. Raises ValueError where a size is not positive.
    """
    if not (length > 0 and width > 0):
        raise ValueError("length and width must be positive")
    theme = Theme(theme)
    canvas = Canvas(theme)
    scale = WIDE / max(longest or length, length)
    paper = theme is Theme.PAPER
    wood = "wood" if paper else lighter(colour, 0.35)
    line = "ink" if paper else darker(colour, 0.75)
    high = max(width * scale, 5.0)
    upright = high / width  # a narrow board is drawn a little wider so that it can be read; along it is to scale
    canvas.open("board")
    canvas.rect(LEFT, TOP, length * scale, high, wood, line, 0.4)
    # The marked end carries a pencil triangle, as boards do.
    canvas.polygon([(LEFT, TOP + 1), (LEFT + 2.6, TOP + high / 2), (LEFT, TOP + high - 1)], line)
    if sawn is not None and sawn < length:
        canvas.rect(
            LEFT + sawn * scale, TOP, (length - sawn) * scale, high, "sheet" if paper else lighter(colour, 0.75)
        )
        canvas.rect(LEFT, TOP, length * scale, high, "none", line, 0.4)
        canvas.line(LEFT + sawn * scale, TOP - 1.6, LEFT + sawn * scale, TOP + high + 1.6, "ink", 0.5)
        words = f"left over {measure(length - sawn)}"
        if text_width(words, TEXT) < (length - sawn) * scale - 2:
            ink = "ink" if paper else "#241a10"
            canvas.text(LEFT + (sawn + length) / 2 * scale, TOP + high / 2 + 1.2, words, TEXT, "middle", fill=ink)
    canvas.close()
    for piece in pieces:
        _piece(canvas, piece, scale, upright, colour, paper)
    for mark in marks:
        canvas.open("flaw")
        x, y = LEFT + mark.start * scale, TOP + mark.near * upright
        w, h = max(1.0, (mark.end - mark.start) * scale), max(1.0, (mark.far - mark.near) * upright)
        canvas.rect(x, y, w, h, "#ffffff" if paper else lighter(colour, 0.6), "#000000", 0.45)
        canvas.line(x, y, x + w, y + h, "#000000", 0.45)
        canvas.line(x, y + h, x + w, y, "#000000", 0.45)
        canvas.close()
    below = _running(canvas, running, scale, TOP + high, measure)
    canvas.text(LEFT, TOP - 3.4, title, TEXT, weight=600)
    size = f"{measure(length)} × {measure(width)}"
    canvas.text(
        LEFT + max(length * scale, text_width(title, TEXT) + text_width(size, TEXT) + 8), TOP - 3.4, size, TEXT, "end"
    )
    said = f"{len(pieces)} pieces, {len(marks)} flaws." if pieces else f"{len(marks)} flaws."
    return canvas.svg(
        (0, 0, WIDE + 2 * LEFT, TOP + high + 3 + below), title, f"{size}. {said}", "drawing drawing--board"
    )


def _running(
    canvas: Canvas, running: Sequence[float], scale: float, y: float, measure: Callable[[float], str]
) -> float:
    """Ticks below the board with their measures; gives the height that they take."""
    if not running:
        return 0.0
    canvas.open("running measures")
    free = 0.0
    for at in running:
        x, words = LEFT + at * scale, measure(at)
        canvas.line(x, y, x, y + 1.6, "ink", 0.25)
        wide = text_width(words, SMALL)
        left = min(max(LEFT, x - wide / 2), LEFT + WIDE - wide)
        if left >= free:
            canvas.text(left, y + 4.6, words, SMALL)
            free = left + wide + 1.5
    canvas.close()
    return 4.0


def _piece(canvas: Canvas, piece: Piece, scale: float, upright: float, colour: str, paper: bool) -> None:
    canvas.open(f"piece {piece.number}")
    x, y = LEFT + piece.x * scale, TOP + piece.y * upright
    w, h = piece.length * scale, piece.width * upright
    fill = "#ffffff" if paper else colour
    ink = "#000000" if paper or not is_dark(colour) else "#ffffff"
    canvas.rect(x, y, w, h, fill, "#000000" if paper else darker(colour, 0.8), 0.35)
    size = min(4.2, h * 0.9, w / max(1.0, 0.62 * len(piece.number)))
    canvas.text(x + w / 2, y + h / 2 + size * 0.35, piece.number, size, "middle", 600, ink)
    canvas.close()
