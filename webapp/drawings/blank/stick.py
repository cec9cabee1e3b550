"""A closed blank, from the clamps to the finished flute."""

from webapp.drawings.blank.timber import TAPE_INK, Timber
from webapp.drawings.blank.wood import darker, lighter
from webapp.drawings.sheet.canvas import data
from webapp.drawings.sheet.notation import note_width, write_note
from webapp.shop.routings.making import EXIT, edge_ramp

SIDE = 0.26  # how much of its side a square blank shows, as a share of its width
CLAMP = 9.0  # mm that a clamp reaches over either edge
STEEL, STEEL_LIGHT, STEEL_DARK = "#6f7478", "#a9aeb2", "#3f4347"
LEATHER, LEATHER_DARK = "#7a5230", "#3f2814"
BLOCK_DARK, BLOCK_PALE = "#5b3a22", "#c79a62"  # the block is of another wood, so that it is seen
HOLLOW = "#1d120a"


class Stick(Timber):
    """Seen from above with the flue and the holes up, the mouth end to the left."""

    def draw(self, label: str) -> tuple[float, float]:
        half = self.width / 2
        square = not self.p.turned
        bottom = half + (self.width * SIDE if square else 0.0)
        if square:
            self._square(half)
        else:
            self._round(half)
        if not self.p.finished:
            self.c.open("pencil")
            self.centre_line(0.0)
            self.c.close()
        if self.p.flue_cut:
            self._flue()
        if self.p.window_open:
            self._window()
        elif not self.p.in_clamps:
            self._window_marked()
        self._holes()
        if self.p.block_on:
            self._block(half)
        if not self.p.finished:
            self._tape(label, 0.0, self.width * 0.5)
        if self.p.in_clamps:
            self._clamps(half, bottom)
            return -half - CLAMP, bottom + CLAMP
        return -half, bottom

    def _square(self, half: float) -> None:
        left, length = self.at.mouth, self.at.length
        side = self.width * SIDE
        self.face(-half, self.width)
        self.c.open("side")
        self.c.rect(left, half, length, side, darker(self.wood, 0.34))
        self.grain(left, half, length, side, False, 0.22)
        # The glue line between the halves, at the middle of the side.
        glue = darker(self.wood, 0.85) if not self.dark else lighter(self.wood, 0.35)
        self.c.line(left, half + side / 2, left + length, half + side / 2, glue, 0.7)
        self.c.rect(left, half, length, side, "none", darker(self.wood, 0.6), 0.5)
        self.c.close()

    def _round(self, half: float) -> None:
        """A turned body: light from above, the mouth end drawn in to the lips, the foot's edge eased."""
        wood = self.wood if not self.p.finished else darker(self.wood, 0.10)
        path = self._round_outline(half)
        self.c.open("turned body")
        self.gradient(
            ("0", darker(wood, 0.30)),
            ("0.12", lighter(wood, 0.06)),
            ("0.30", lighter(wood, 0.30)),
            ("0.55", wood),
            ("0.82", darker(wood, 0.38)),
            ("1", darker(wood, 0.66)),
        )
        self.c.path(path, self.filled, darker(wood, 0.7), 0.5)
        taper = self._taper()
        self.grain(self.at.mouth + taper, -half * 0.8, self.at.length - taper - 2, half * 1.6, False, 0.26)
        if self.p.finished:
            x1, x2 = self.at.mouth + taper * 0.8, self.at.bore[1] - 6
            self.c.line(
                x1, -half * 0.52, x2, -half * 0.52, "#ffffff", half * 0.13, stroke_opacity=0.5, stroke_linecap="round"
            )
        self.c.close()

    def _taper(self) -> float:
        return min(self.width * 1.5, (self.at.plug[0] - self.at.mouth) * 0.45)

    def _round_outline(self, half: float) -> str:
        m, taper, foot = self.at.mouth, self._taper(), self.at.bore[1]
        lips, near, far = half * 0.56, m + taper * 0.4, m + taper * 0.55
        return data(
            *("M", m + 2, -lips, "C", near, -lips * 1.08, far, -half, m + taper, -half),
            *("H", foot - 2, "Q", foot, -half, foot, -half + 2, "V", half - 2, "Q", foot, half, foot - 2, half),
            *("H", m + taper, "C", far, half, near, lips * 1.08, m + 2, lips),
            *("Q", m, lips, m, lips - 2, "V", -lips + 2, "Q", m, -lips, m + 2, -lips, "Z"),
        )

    def _flue(self) -> None:
        if self.at.flue is None or self.flute.flue is None:
            return
        x1, x2 = self.at.flue
        w = self.flute.flue.width
        self.c.open("flue")
        self.c.rect(x1, -w / 2, x2 - x1, w, darker(self.wood, 0.42))
        self.c.rect(x1, -w / 2, x2 - x1, 1.0, darker(self.wood, 0.8))
        if self.at.chamber:
            self.c.rect(x1 - EXIT, -w / 2, EXIT, w, HOLLOW, rx=0.8)
        self.c.close()

    def _window(self) -> None:
        length, w = self.flute.window.length, self.flute.window.width
        ramp = min(edge_ramp(self.flute), 14.0)
        self.c.open("window")
        self.c.rect(-length, -w / 2, length, w, HOLLOW)
        if ramp:
            self.c.rect(0, -w / 2, ramp, w, lighter(self.wood, 0.28))
            self.c.rect(0, -w / 2, ramp, 0.9, darker(self.wood, 0.5))
        self.c.line(0, -w / 2, 0, w / 2, lighter(self.wood, 0.75), 0.6)
        self.c.close()

    def _window_marked(self) -> None:
        length, w = self.flute.window.length, self.flute.window.width
        self.c.open("window marked")
        self.c.rect(-length, -w / 2, length, w, "none", self.pencil, 0.6)
        self.c.line(0, -self.width * 0.4, 0, self.width * 0.4, self.pencil, 0.6)
        self.c.close()

    def _holes(self) -> None:
        if self.p.in_clamps:
            return
        self.c.open("holes drilled" if self.p.holes_drilled else "holes marked")
        for hole in (*self.flute.holes, *self.flute.foot_holes):
            r = hole.diameter / 2
            if self.p.holes_drilled:
                self.c.circle(hole.x, 0, r + 0.5, lighter(self.wood, 0.28))
                self.c.circle(hole.x, 0, r, HOLLOW)
                wall = (hole.x - r * 0.8, r * 0.6), (hole.x + r * 0.8, r * 0.6)
                self.c.path(
                    data("M", *wall[0], "A", r, r, "0 0 0", *wall[1], "A", r * 1.2, r * 1.2, "0 0 1", *wall[0], "Z"),
                    darker(self.wood, 0.35),
                )
            else:
                self.c.circle(hole.x, 0, r, "none", self.pencil, 0.6)
                self.c.line(hole.x - r - 2, 0, hole.x + r + 2, 0, self.pencil, 0.5)
                self.c.line(hole.x, -r - 2, hole.x, r + 2, self.pencil, 0.5)
        self.c.close()

    def _block(self, half: float) -> None:
        """The block tied down over the flue, its foot-side edge at the window, with two turns of cord."""
        wood = BLOCK_PALE if self.dark else BLOCK_DARK
        x2 = self.at.window[0]
        x1 = (self.at.flue[0] if self.at.flue else x2 - 24) - EXIT - 10
        w = self.width * 0.36
        self.c.open("block")
        # Two short arms either side of the window, a broad back, a rounded tail.
        arm = min(self.flute.window.width / 2 + 1.2, w - 0.8)
        reach = x2 + min(self.flute.window.length * 0.75, 5.0)
        path = data(
            *("M", x1 + 5, -w * 0.8, "Q", x1, -w * 0.7, x1, 0.0, "Q", x1, w * 0.7, x1 + 5, w * 0.8, "L", x1 + 12, w),
            *("H", reach, "V", arm, "H", x2, "V", -arm, "H", reach, "V", -w, "H", x1 + 12, "Z"),
        )
        self.c.path(path, wood, darker(wood, 0.6), 0.5)
        ends = {"stroke_linecap": "round"}
        self.c.line(x1 + 5, -w * 0.42, x2 - 1.5, -w * 0.42, lighter(wood, 0.55), 1.3, stroke_opacity=0.8, **ends)
        self.c.line(x1 + 5, w * 0.5, x2 - 1.5, w * 0.5, darker(wood, 0.7), 1.1, stroke_opacity=0.55, **ends)
        self.c.close()
        self.c.open("cord")
        low = half + (0.0 if self.p.turned else self.width * SIDE)
        span = x2 - x1
        for share in (0.30, 0.40, 0.66):
            x = x1 + span * share
            self.c.line(x, -half - 0.3, x, low + 0.3, LEATHER_DARK, 2.6)
            self.c.line(x - 0.3, -half - 0.3, x - 0.3, low + 0.3, LEATHER, 1.5)
        x = x1 + span * 0.35
        self.c.circle(x, -w * 0.1, 2.2, LEATHER, LEATHER_DARK, 0.7)
        if self.p.finished:
            for lean in (-7.0, 6.0):
                tail = data("M", x, -w * 0.1, "q", lean * 0.2, half * 0.7, lean, half * 0.95)
                self.c.path(tail, "none", LEATHER_DARK, 1.7, stroke_linecap="round")
        self.c.close()

    def _clamps(self, half: float, bottom: float) -> None:
        step = self._clamp_step()
        self.c.open("clamps")
        for index in range(round(self.at.length / step)):
            x = self.at.mouth + (index + 0.5) * step
            top, low = -half - CLAMP + 1.5, bottom + CLAMP - 1.5
            self.c.rect(x - 4.2, top, 8.4, low - top, STEEL, STEEL_DARK, 0.6, rx=2.2)
            self.c.rect(x - 2.9, top + 1.4, 1.7, low - top - 2.8, STEEL_LIGHT, rx=0.8)
            self.c.circle(x + 0.4, 0, 3.0, STEEL_DARK)
            self.c.circle(x + 0.2, -0.3, 1.9, STEEL_LIGHT)
            self.c.line(x - 6.5, -1.8, x + 7.3, 1.8, STEEL_DARK, 1.5, stroke_linecap="round")
        self.c.close()

    def _clamp_step(self) -> float:
        """From clamp to clamp: three at least, no more than about three inches and a half apart."""
        return self.at.length / max(3, round(self.at.length / 85))

    def _tape(self, label: str, middle: float, high: float) -> None:
        """A strip of masking tape with a word on it: over the slow air chamber, and between two clamps."""
        if not label:
            return
        size = high * 0.86
        long = note_width(label, size, 700) + 9
        room = self.at.plug[0] - EXIT - 12 - self.at.mouth
        left = self.at.mouth + max(6.0, (room - long) * 0.4)
        if self.p.in_clamps:
            left = self.at.mouth + self._clamp_step() - long / 2
        elif long > room - 6:
            left = self.at.bore[1] - long - 6
        self.strip(left, middle - high / 2, long, high, along=True)
        write_note(self.c, left + long / 2, middle + size * 0.33, label, size, "middle", 700, TAPE_INK)
        self.c.close()
