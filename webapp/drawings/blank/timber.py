"""Common to all drawings of a blank: a piece of wood, pencil marks on it, a strip of masking tape."""

from zlib import crc32

from acoustics.flute.instrument import Instrument
from webapp.drawings.blank.progress import Progress
from webapp.drawings.blank.wood import darker, grain, is_dark, lighter
from webapp.drawings.flute.parts import Parts, outside
from webapp.drawings.sheet.canvas import Canvas, data

GRAPHITE = "#2e2c2a"
TAPE, TAPE_EDGE, TAPE_INK = "#ead9a6", "#bda866", "#2f2a1c"


class Timber:
    """Draws on `canvas` in mm; y = 0 is the axis of a closed blank, or the joint between two open halves."""

    def __init__(
        self, canvas: Canvas, instrument: Instrument, place: Parts, colour: str, progress: Progress, seed: int
    ) -> None:
        self.c = canvas
        self.flute = instrument
        self.at = place
        self.wood = colour
        self.dark = is_dark(colour)
        self.p = progress
        self.seed = seed
        # Ids must differ between the drawings on one page, and be the same whenever the same is drawn.
        self.id = f"m{crc32(repr((instrument, colour, progress, seed)).encode()):08x}"
        self.filled = ""
        self.width = max(outside(instrument, x) for x in (place.mouth, place.window[0], place.bore[1]))
        # Pencil marks must be visible on dark wood too.
        self.pencil = "#d9d3c7" if self.dark else GRAPHITE

    def face(self, top: float, high: float, mirrored: bool = False) -> None:
        left, length = self.at.mouth, self.at.length
        self.c.open("face")
        self.c.rect(left, top, length, high, lighter(self.wood, 0.10))
        self.grain(left, top, length, high, mirrored, 0.38)
        self.c.rect(left, top, length, 0.8, "#ffffff", fill_opacity=0.28)
        self.c.rect(left, top + high - 1.1, length, 1.1, "#000000", fill_opacity=0.28)
        self.c.rect(left, top, length, high, "none", darker(self.wood, 0.55), 0.5)
        self.c.close()

    def grain(self, left: float, top: float, length: float, high: float, mirrored: bool, strength: float) -> None:
        colour = lighter(self.wood, 0.28) if self.dark else darker(self.wood, 0.55)
        d = []
        for points in grain(self.seed, length, high):
            at = [(left + x, top + (high - y if mirrored else y)) for x, y in points]
            (x0, y0), (x1, y1), (x2, y2), (x3, y3) = at
            d.append(f"M{x0:.1f} {y0:.2f}C{x1:.1f} {y1:.2f} {x2:.1f} {y2:.2f} {x3:.1f} {y3:.2f}")
        self.c.path("".join(d), "none", colour, 0.7, stroke_opacity=strength)

    def gradient(self, *stops: tuple[str, str]) -> None:
        """Light to shadow from the upper to the lower edge, for one kind of surface in this drawing."""
        self.filled = f"url(#{self.id})"
        self.c.define(
            "linearGradient",
            {"id": self.id, "x1": "0", "y1": "0", "x2": "0", "y2": "1"},
            [("stop", {"offset": offset, "stop-color": colour}) for offset, colour in stops],
        )

    def centre_line(self, y: float) -> None:
        self.c.line(
            self.at.mouth + 1,
            y,
            self.at.bore[1] - 1,
            y,
            self.pencil,
            0.4,
            stroke_opacity=0.75,
            stroke_dasharray="14 2.5 2.5 2.5",
        )

    def strip(self, left: float, top: float, wide: float, high: float, along: bool) -> None:
        """Opens a group with a piece of tape, torn at the ends of its run."""
        tear = high / 4 if along else wide / 4
        there: list[float | str] = []
        back: list[float | str] = []
        for index in range(4):
            out = -1.2 if index % 2 else 1.2
            there += ["l", *((out, tear) if along else (tear, -out))]
            back += ["l", *((-out, -tear) if along else (-tear, out))]
        if along:
            d = data("M", left, top, "H", left + wide, *there, "H", left, *back, "Z")
        else:
            d = data("M", left, top, *there, "V", top + high, *back, "Z")
        self.c.open("tape")
        self.c.path(d, TAPE, TAPE_EDGE, 0.35)
