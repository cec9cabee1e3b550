"""The dial of the bench: cents flat and sharp of the target, with a needle that the page turns."""

import math

from markupsafe import Markup

from webapp.drawings.sheet.canvas import number

REACH = 50.0  # cents either side
SWING = 58.0  # degrees either side
PIVOT = (100.0, 108.0)
RADIUS = 88.0


def angle(cents: float) -> float:
    """Degrees from upright at which the needle stands."""
    return SWING * max(-REACH, min(REACH, cents)) / REACH


def at(cents: float, radius: float) -> tuple[float, float]:
    """The point of the dial at so many cents and so far from the pivot."""
    turned = math.radians(angle(cents))
    return PIVOT[0] + radius * math.sin(turned), PIVOT[1] - radius * math.cos(turned)


def dial(tolerance: float, aim: float = 0.0) -> Markup:
    """The dial as an SVG, the band where a note should stand marked. Its needle has the id `needle`."""
    parts = [f'<path class="f-band s-ink" stroke-width="1" d="{_sector(aim - tolerance, aim + tolerance)}"/>']
    for cents in range(-50, 51, 5):
        long = cents % 10 == 0
        (x1, y1), (x2, y2) = at(cents, RADIUS), at(cents, RADIUS - (9 if long else 5))
        width = "1.6" if long else "0.8"
        parts.append(f'<path class="s-ink" stroke-width="{width}" d="M{_xy(x1, y1)}L{_xy(x2, y2)}"/>')
        if cents % 20 == 0 or abs(cents) == 50:
            x, y = at(cents, RADIUS + 7)
            sign = "+" if cents > 0 else "\N{MINUS SIGN}" if cents < 0 else ""
            parts.append(
                f'<text class="f-ink" x="{number(x)}" y="{number(y + 2)}" font-size="9" '
                f'text-anchor="middle">{sign}{abs(cents)}</text>'
            )
    x, y = PIVOT
    parts.append(
        f'<g id="needle" class="dial__needle" transform="rotate(0 {number(x)} {number(y)})">'
        f'<path class="s-accent" stroke-width="3" stroke-linecap="round" d="M{_xy(x, y)}L{_xy(x, y - RADIUS + 6)}"/>'
        "</g>"
        f'<circle class="f-accent" cx="{number(x)}" cy="{number(y)}" r="5"/>'
    )
    body = "".join(parts)
    where = f'data-swing="{SWING:g}" data-reach="{REACH:g}" data-x="{x:g}" data-y="{y:g}"'
    head = f'<svg class="drawing dial" viewBox="0 0 200 114" aria-hidden="true" fill="none" {where}>'
    return Markup(head + body + "</svg>")  # noqa: S704  numbers and our own words only


def _sector(low: float, high: float) -> str:
    inner, outer = RADIUS - 26, RADIUS
    a, b, c, d = at(low, outer), at(high, outer), at(high, inner), at(low, inner)
    return (
        f"M{_xy(*a)}A{number(outer)} {number(outer)} 0 0 1 {_xy(*b)}"
        f"L{_xy(*c)}A{number(inner)} {number(inner)} 0 0 0 {_xy(*d)}Z"
    )


def _xy(x: float, y: float) -> str:
    return f"{number(x)} {number(y)}"
