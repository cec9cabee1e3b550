"""From what stands on a paper to its HTML: the job that the press sets."""

import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Protocol

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from webapp.drawings.charts.fingering import COLUMN, MARGIN, ChartNote, fingering_chart
from webapp.drawings.sheet.canvas import Theme
from webapp.models import Paper
from webapp.paper.press.jobs import Job

TEMPLATES = Path(__file__).parents[2] / "templates"
# Width and height in mm (ANSI/ASME Y14.1 size A is 8.5 x 11 in; ISO 216 A4).
SHEETS = {Paper.LETTER: (215.9, 279.4), Paper.A4: (210.0, 297.0)}
SIDE = 11.0  # mm of margin at either side


def text_width(paper: Paper) -> float:
    """Width between the margins [mm]."""
    return SHEETS[paper][0] - 2 * SIDE


@cache
def environment() -> Environment:
    """Templates of papers. An unknown name is an error, never an empty string."""
    return Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def job(
    template: str,
    style: str,
    versions: Sequence[dict[str, object]],
    at_most: int | None = None,
    attached: tuple[tuple[str, str, str], ...] = (),
) -> Job:
    """A job for the press: one template, rendered once for each version from roomy to dense."""
    page = environment().get_template(f"paper/{template}")
    return Job(style, tuple(page.render(version) for version in versions), at_most, attached)


class Noted(Protocol):
    """A note as a chart needs it."""

    @property
    def fingering(self) -> str: ...
    @property
    def name(self) -> str: ...


class AlignedChart:
    """The fingering chart, and the widths in mm that columns of a table below it need to stand under its notes."""

    def __init__(self, notes: Sequence[Noted], widest: float, scale: float) -> None:
        drawn = fingering_chart([ChartNote(n.fingering, n.name) for n in notes], Theme.PAPER, show_cents=False)
        self.svg, factor = fitted(drawn, widest, scale)
        self.first = factor * MARGIN
        self.each = factor * COLUMN
        self.width = self.first + len(notes) * self.each


_SIZE = re.compile(r'(<svg\b[^>]*?\bwidth=")([\d.]+)mm("[^>]*?\bheight=")([\d.]+)mm(")')


def height_of(drawing: Markup) -> float:
    """Height of a drawing [mm]. Raises ValueError for one without a size in mm."""
    return float(_sized(drawing)[4])


def _sized(drawing: Markup) -> re.Match[str]:
    found = _SIZE.search(drawing)
    if found is None:
        raise ValueError("drawing: needs its width and height in mm")
    return found


def fitted(drawing: Markup, widest: float, scale: float = 1.0) -> tuple[Markup, float]:
    """A drawing that is not to scale, made smaller, and by how much. Raises ValueError for one without a size in mm."""
    found = _sized(drawing)
    width, height = float(found[2]), float(found[4])
    factor = min(scale, widest / width)
    head = f"{found[1]}{width * factor:.3f}mm{found[3]}{height * factor:.3f}mm{found[5]}"
    # Only two numbers of the drawing's own markup are changed.
    return Markup(drawing[: found.start()] + Markup(head) + drawing[found.end() :]), factor  # noqa: S704
