"""The working drawing: views to scale, every length from the splitting edge, no two texts over each other."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from markupsafe import Markup

from acoustics.flute.instrument import Instrument
from webapp.drawings.flute.detail import WIDEST, across, detail
from webapp.drawings.flute.figures import figures, scale_bar
from webapp.drawings.flute.frame import Frame, fitting_scale, measure, measure_inline
from webapp.drawings.flute.parts import Parts, outside, parts
from webapp.drawings.flute.section import section
from webapp.drawings.flute.views import plan
from webapp.drawings.sheet.canvas import Canvas, Theme, outline
from webapp.drawings.sheet.lettering import spread, text_width
from webapp.models import Units
from webapp.shop.routings.making import MOUTH_END, block_place

MARGIN = 3.0  # mm left and right: room for the axis to run out
TYPE = 3.0  # mm, size of the figures
LINE = 3.7  # mm from line to line
GAP = 1.6  # mm between neighbouring labels
BEND = 5.0  # mm in which a leader finds its label


@dataclass(frozen=True, slots=True)
class Label:
    """What stands at one position: a few lines, the first of them the most important."""

    x: float
    lines: tuple[str, ...]
    ring: bool = False  # the first line is the number of a hole

    @property
    def width(self) -> float:
        sizes = [text_width(line, TYPE, 600 if index == 0 else 400) for index, line in enumerate(self.lines)]
        return max(sizes)


# The same flutes are drawn again and again, whenever a page is reloaded.
@lru_cache(maxsize=128)
def dimensioned(
    instrument: Instrument,
    units: Units | str = Units.MM,
    width: float = 180.0,
    theme: Theme | str = Theme.PAGE,
    scale: float | None = None,
    mouth_end: float = MOUTH_END,
    mark_hole: int | None = None,
) -> Markup:
    """The flute from above, along its axis and across its flue, `width` mm wide; its height follows.

    `scale` 3.0 draws it at 1:3 (default: the largest of a few plain scales that fits). `mouth_end` is the solid
    wood before the slow air chamber [mm]. `mark_hole` points out one finger hole. Raises ValueError where the
    flute does not fit `width`.
    """
    units, theme = Units(units), Theme(theme)
    place = parts(instrument, mouth_end)
    scale = scale or fitting_scale(place.length, width - 2 * MARGIN)
    if place.length / scale > width - 2 * MARGIN + 1e-9:
        raise ValueError(f"scale: at 1:{scale:g} the flute is wider than {width:g} mm")
    canvas = Canvas(theme)
    origin = (width - place.length / scale) / 2 - place.mouth / scale
    half = max(outside(instrument, x) for x in (place.mouth, *(x for x, _ in instrument.bore))) / 2 / scale

    holes = _hole_labels(instrument, units)
    top = 1.0 + _height(holes) + BEND
    seen = Frame(origin, top + 2 + half, scale)
    _labels(canvas, holes, seen, width, below=False, edge=top - BEND, reach=seen.axis - half)
    plan(canvas, instrument, place, seen, mark_hole)

    block = instrument.block.height if instrument.block else outside(instrument, block_place(instrument)[1]) * 0.4
    block_high = block / scale
    cut = Frame(origin, seen.axis + 2 * half + 5 + block_high + TYPE, scale)
    section(canvas, instrument, place, cut)
    ends = _end_labels(instrument, place, units)
    edge = cut.axis + half + 1.5 + BEND
    _labels(canvas, ends, cut, width, below=True, edge=edge, reach=cut.axis + half)

    # A thin line at the origin, from view to view: that is where the rule is laid on.
    canvas.line(origin, top - BEND * 0.4, origin, seen.axis - half, "accent", 0.25)
    canvas.line(origin, seen.axis + half, origin, cut.axis - half, "accent", 0.25)
    y = edge + _height(ends) + 1.5
    bottom, right = figures(canvas, instrument, place, units, y)
    column = width - WIDEST / 2
    across_bottom = across(canvas, instrument, units, column, y)
    detail_bottom = detail(canvas, instrument, place, units, (right + 3, width - WIDEST - 2), y)
    bottom = scale_bar(canvas, units, max(bottom, across_bottom, detail_bottom) + 2.5, scale)
    return canvas.svg(
        (0, 0, width, bottom),
        "Working drawing",
        _description(instrument, place, scale, Units(units)),
        "drawing drawing--working",
    )


def _hole_labels(flute: Instrument, units: Units) -> list[Label]:
    labels = []
    for number, hole in enumerate(flute.holes, 1):
        labels.append(
            Label(
                hole.x,
                (str(number), *_at(hole.x, units), *_across(hole.diameter, hole.undercut, hole.wall, units)),
                True,
            )
        )
    for hole in flute.foot_holes:
        lines = ("foot hole", *_at(hole.x, units), *_across(hole.diameter, hole.undercut, hole.wall, units))
        labels.append(Label(hole.x, lines))
    return sorted(labels, key=lambda label: label.x)


def _at(x: float, units: Units) -> list[str]:
    return measure(x, units)


def _across(diameter: float, undercut: float, wall: float | None, units: Units) -> list[str]:
    first, *rest = measure(diameter, units, 2)
    lines = [f"Ø {first}", *rest]
    if undercut:
        lines.append(f"undercut {measure_inline(undercut, units)}")
    if wall is not None:
        lines.append(f"wall {measure_inline(wall, units)}")
    return lines


def _end_labels(flute: Instrument, place: Parts, units: Units) -> list[Label]:
    """The ends of the parts, one label for those that coincide."""
    ends: dict[float, list[str]] = {}

    def add(x: float, *names: str) -> None:
        ends.setdefault(round(x, 3), []).extend(names)

    add(place.mouth, "mouth", "end")
    if place.chamber:
        add(place.chamber[0], "chamber", "from")
        add(place.chamber[1], "chamber to")
    if place.flue:
        add(place.flue[0], "flue from")
    add(place.plug[1], "plug", "face")
    add(place.window[0], "window")
    add(0.0, "splitting", "edge")
    add(flute.foot_x, "foot")
    return [Label(x, (*measure(x, units), *names)) for x, names in sorted(ends.items())]


def _height(labels: Sequence[Label]) -> float:
    return max((len(label.lines) for label in labels), default=0) * LINE + 1.0


def _labels(
    canvas: Canvas, labels: list[Label], frame: Frame, width: float, below: bool, edge: float, reach: float
) -> None:
    """Sets labels side by side along `edge`, with a leader from each to its place on the flute."""
    widths = [label.width for label in labels]
    centres = spread([frame.x(label.x) for label in labels], widths, 0.5, width - 0.5, GAP)
    sign = 1.0 if below else -1.0
    canvas.open("lengths")
    for label, centre in zip(labels, centres, strict=True):
        x = frame.x(label.x)
        bend = edge - sign * BEND
        start = reach if below else frame.axis
        canvas.path(outline([(x, start), (x, bend), (centre, edge - sign * 0.8), (centre, edge)]), "none", "soft", 0.18)
        first = edge + (LINE if below else -1.2 - (len(label.lines) - 1) * LINE)
        for index, words in enumerate(label.lines):
            y = first + index * LINE - (0.6 if below else 0.0)
            main = index == 0
            if main and label.ring:
                canvas.circle(centre, y - TYPE * 0.33, 2.0, "none", "ink", 0.3)
            canvas.text(centre, y, words, TYPE, "middle", 600 if main else 400, "ink" if main or label.ring else "soft")
    canvas.close()


def _description(flute: Instrument, place: Parts, scale: float, units: Units) -> str:
    def say(mm: float) -> str:
        return measure_inline(mm, units) if units is Units.INCH else f"{mm:.1f} mm"

    holes = "; ".join(
        f"hole {number} at {say(hole.x)}, {say(hole.diameter)} across" for number, hole in enumerate(flute.holes, 1)
    )
    return (
        f"Scale 1 to {scale:g}. All lengths from the splitting edge toward the foot. Foot at {say(place.bore[1])}, "
        f"plug face at {say(place.bore[0])}. {holes or 'No finger holes'}."
    )
