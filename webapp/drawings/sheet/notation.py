"""Note names with true accidentals. The typeface of the drawings has no sharp or flat, so these are drawn."""

import re

from webapp.drawings.sheet.canvas import Canvas, data
from webapp.drawings.sheet.lettering import text_width

_NOTE = re.compile(r"([A-Ga-g])([#♯b♭])(-?\d.*|)", re.DOTALL)
_WIDE = {"sharp": 0.44, "flat": 0.36}  # of the type size


def _pieces(name: str) -> tuple[str, str, str]:
    """Letter, 'sharp' or 'flat', the rest; anything that is not such a note is returned whole."""
    found = _NOTE.fullmatch(name)
    if found is None:
        return name, "", ""
    return found[1], "sharp" if found[2] in "#♯" else "flat", found[3]


def note_width(name: str, size: float, weight: int = 400) -> float:
    letter, accidental, rest = _pieces(name)
    return text_width(letter + rest, size, weight) + _WIDE.get(accidental, 0.0) * size


def write_note(
    canvas: Canvas,
    x: float,
    y: float,
    name: str,
    size: float,
    anchor: str = "start",
    weight: int = 400,
    fill: str = "ink",
) -> None:
    """Like Canvas.text for a name such as 'F#4', 'F♯4' or 'Bb3'."""
    letter, accidental, rest = _pieces(name)
    if not accidental:
        canvas.text(x, y, name, size, anchor, weight, fill)
        return
    left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * note_width(name, size, weight)
    canvas.text(left, y, letter, size, weight=weight, fill=fill)
    at = left + text_width(letter, size, weight)
    heavy = 1.35 if weight > 400 else 1.0
    (_sharp if accidental == "sharp" else _flat)(canvas, at, y, size, heavy, fill)
    if rest:
        canvas.text(at + _WIDE[accidental] * size, y, rest, size, weight=weight, fill=fill)


def _sharp(canvas: Canvas, x: float, y: float, size: float, heavy: float, colour: str) -> None:
    def to(across: float, up: float) -> tuple[float, float]:
        return x + across * size, y - up * size

    upright = data("M", *to(0.15, -0.05), "L", *to(0.15, 0.70), "M", *to(0.29, 0.0), "L", *to(0.29, 0.75))
    canvas.path(upright, "none", colour, 0.048 * size * heavy)
    bars = data("M", *to(0.05, 0.19), "L", *to(0.39, 0.27), "M", *to(0.05, 0.43), "L", *to(0.39, 0.51))
    canvas.path(bars, "none", colour, 0.085 * size * heavy)


def _flat(canvas: Canvas, x: float, y: float, size: float, heavy: float, colour: str) -> None:
    def to(across: float, up: float) -> tuple[float, float]:
        return x + across * size, y - up * size

    stem = data("M", *to(0.08, 0.74), "L", *to(0.08, 0.0), "M", *to(0.08, 0.34))
    upper, lower = (
        (*to(0.16, 0.46), *to(0.30, 0.42), *to(0.27, 0.27)),
        (*to(0.25, 0.15), *to(0.15, 0.05), *to(0.08, 0.0)),
    )
    canvas.path(f"{stem} {data('C', *upper, 'C', *lower)}", "none", colour, 0.06 * size * heavy)
