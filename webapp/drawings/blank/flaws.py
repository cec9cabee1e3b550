"""A strip of a blank, seen from above, with its defects marked where they are."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from acoustics.flute.instrument import Instrument

HEIGHT, TOP, THICK = 84.0, 32.0, 24.0
WIDTH = 600.0
NARROWEST = 6.0


@dataclass(frozen=True, slots=True)
class Flaw:
    """One defect: position [mm from the mouth end], name, and whether a decision was made."""

    number: int
    start: float
    end: float
    name: str
    is_open: bool


def flaw_strip(flute: Instrument, length: float, mouth: float, flaws: Sequence[Flaw]) -> Markup:
    """The strip as SVG. `length`: of the blank; `mouth`: how far before the splitting edge its mouth end lies [mm]."""
    scale = WIDTH / length
    middle = TOP + THICK / 2

    def at(x: float) -> float:
        return min(WIDTH, max(0.0, x * scale))

    window = at(mouth)
    body = [
        f'<rect class="flaws__wood" x="0" y="{TOP}" width="{WIDTH}" height="{THICK}" rx="3"/>',
        f'<rect class="flaws__window" x="{window - flute.window.length * scale:.1f}" y="{middle - 4}" '
        f'width="{max(2.0, flute.window.length * scale):.1f}" height="8"/>',
    ]
    body += [
        f'<circle class="flaws__hole" cx="{at(mouth + hole.x):.1f}" cy="{middle}" r="3.2"/>' for hole in flute.holes
    ]
    for flaw in flaws:
        left, right = at(flaw.start), at(flaw.end)
        if right - left < NARROWEST:
            left, right = (left + right - NARROWEST) / 2, (left + right + NARROWEST) / 2
        kind = "open" if flaw.is_open else "decided"
        body.append(
            f'<g class="flaws__flaw flaws__flaw--{kind}"><title>{escape(flaw.name)}</title>'
            f'<rect x="{left:.1f}" y="{TOP - 4}" width="{right - left:.1f}" height="{THICK + 8}"/>'
            f'<text x="{(left + right) / 2:.1f}" y="22" text-anchor="middle">{flaw.number}</text></g>'
        )
    body.append(f'<text class="flaws__end" x="0" y="{HEIGHT - 5}">mouth end</text>')
    body.append(f'<text class="flaws__end" x="{WIDTH}" y="{HEIGHT - 5}" text-anchor="end">foot</text>')
    names = ", ".join(f"{flaw.number}: {flaw.name}" for flaw in flaws)
    words = escape(f"Where along the blank: {names}")
    inside = "".join(body)
    return Markup(  # noqa: S704
        f'<svg class="flaws" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" role="img" aria-label="{words}">{inside}</svg>'
    )
