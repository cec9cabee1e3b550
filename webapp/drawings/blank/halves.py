"""A blank before its glue-up: two halves opened like a book, inner faces up."""

from webapp.drawings.blank.timber import TAPE_INK, Timber
from webapp.drawings.blank.wood import darker
from webapp.drawings.sheet.canvas import outline
from webapp.drawings.sheet.notation import note_width, write_note

APART = 2.5  # mm between the halves


class Halves(Timber):
    """Two halves of one board, the grain of one the mirror of the other's."""

    def draw(self, label: str) -> tuple[float, float]:
        """Both halves opened like a book, inner faces up, the upper half above."""
        half = self.width
        tops = (-half - APART / 2, APART / 2)
        for index, top in enumerate(tops):
            self.face(top, half, mirrored=index == 1)
            middle = top + half / 2
            if self.p.bored:
                self._channels(middle)
            else:
                self._marked_out(middle)
        self._tape_pair(label, half)
        return tops[0], tops[1] + half

    def _channels(self, middle: float) -> None:
        """The routed half-round channels: the wall nearest the light lies in shadow, the far one catches it."""
        wood, half = self.wood, self.flute.chamber.diameter / 2 if self.flute.chamber else 0.0
        if f"url(#{self.id})" != self.filled:
            self.gradient(
                ("0", darker(wood, 0.86)),
                ("0.35", darker(wood, 0.62)),
                ("0.75", darker(wood, 0.30)),
                ("1", darker(wood, 0.04)),
            )
        self.c.open("channel")
        if self.at.chamber:
            x1, x2 = self.at.chamber
            self.c.rect(x1, middle - half, x2 - x1, 2 * half, self.filled, darker(wood, 0.7), 0.4, rx=min(half, 5.0))
        upper = [(x, middle - d / 2) for x, d in self.flute.bore]
        lower = [(x, middle + d / 2) for x, d in reversed(self.flute.bore)]
        self.c.polygon(upper + lower, self.filled)
        self.c.path(outline(lower[-1:] + upper) + outline(lower, "L"), "none", darker(wood, 0.7), 0.4)
        self.c.close()

    def _marked_out(self, middle: float) -> None:
        """Pencil lines where the channels will be."""
        self.c.open("marked out")
        self.centre_line(middle)
        dash = {"stroke_dasharray": "3.5 2.2"}
        if self.at.chamber and self.flute.chamber:
            r = self.flute.chamber.diameter / 2
            self.c.rect(
                self.at.chamber[0], middle - r, self.flute.chamber.length, 2 * r, "none", self.pencil, 0.55, **dash
            )
        upper = [(x, middle - d / 2) for x, d in self.flute.bore]
        lower = [(x, middle + d / 2) for x, d in reversed(self.flute.bore)]
        self.c.path(outline(lower[-1:] + upper) + outline(lower, "L"), "none", self.pencil, 0.55, **dash)
        self.c.close()

    def _tape_pair(self, label: str, half: float) -> None:
        """A strip across both halves, which keeps the pair together; at the plug, where there is no channel."""
        if not label:
            return
        size = half * 0.42
        wide = note_width(label, size, 700) + 4
        middle = (self.at.plug[0] + self.at.plug[1]) / 2
        self.strip(middle - wide / 2, -half * 0.62, wide, half * 1.24, along=False)
        write_note(self.c, middle, size * 0.33, label, size, "middle", 700, TAPE_INK)
        self.c.close()
