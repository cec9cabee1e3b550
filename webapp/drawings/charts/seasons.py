"""A flute cut across, in the driest and the dampest months: how far bore and wall move, many times enlarged."""

from markupsafe import Markup

from webapp.drawings.sheet.canvas import Canvas, Theme
from webapp.models import Units
from webapp.shop.units.lengths import show_moved
from webapp.shop.wood.seasons import Sawn, Season, Through

RADIUS = 17.0  # units of the outside as it was made
APART = 58.0


def season_picture(year: Through, units: Units = Units.MM, theme: Theme | str = Theme.PAGE) -> Markup:
    """Two sections side by side; the dashed circles are the flute as it was made, the movement is drawn enlarged."""
    canvas = Canvas(Theme(theme))
    outside = year.bore + 2 * year.wall
    scale = 2 * RADIUS / outside
    most = max((abs(v) for s in year.seasons for v in (s.bore_along, s.bore_across)), default=0.0)
    # Round steps, so that the words can name it.
    enlarged = next((n for n in (100, 50, 20, 10, 5, 2) if most * scale * n <= 5.5), 1) if most else 1
    for index, season in enumerate(year.seasons):
        _section(canvas, year, season, 27 + index * APART, scale, enlarged)
    words = f"Movement drawn {enlarged} times as large. Dashed: as it was made."
    said = "; ".join(
        f"{s.name}: bore {show_moved(s.bore_along, units)} along the joint, {show_moved(s.bore_across, units)} across"
        for s in year.seasons
    )
    return canvas.svg(
        (0, 0, 2 * APART - 4, 53), "The flute through the year", f"{words} {said}.", "drawing drawing--seasons"
    )


def _section(canvas: Canvas, year: Through, season: Season, x: float, scale: float, enlarged: int) -> None:
    y = 27.0
    wide = 1 + enlarged * season.bore_along / year.bore
    high = 1 + enlarged * season.bore_across / year.bore
    outer, inner = (year.bore / 2 + year.wall) * scale, year.bore / 2 * scale
    canvas.open(season.name)
    canvas.shape("ellipse", {"cx": x, "cy": y, "rx": outer * wide, "ry": outer * high}, "wood", "ink", 0.4)
    canvas.shape("ellipse", {"cx": x, "cy": y, "rx": inner * wide, "ry": inner * high}, "hollow", "ink", 0.4)
    _rings(canvas, year, x, y, outer * wide, outer * high, inner * wide, inner * high)
    for side in (-1, 1):
        canvas.line(x + side * inner * wide, y, x + side * outer * wide, y, "ink", 0.5)
    for radius in (outer, inner):
        canvas.circle(x, y, radius, "none", "soft", 0.3, stroke_dasharray="1.2 1.2")
    canvas.text(x, 51.0, season.name, 5.0, "middle", 600)
    canvas.text(x, 5.0, f"{100 * season.humidity:.0f} % air, {season.moisture:.1f} % wood", 4.6, "middle")
    canvas.close()


def _rings(canvas: Canvas, year: Through, x: float, y: float, rx: float, ry: float, ix: float, iy: float) -> None:
    """Growth rings in the wood: along the joint where it is flat-sawn, square to it where it is quarter-sawn."""
    for n in range(-4, 5):
        at = n / 5
        reach = (1 - at * at) ** 0.5
        if year.sawn is Sawn.FLAT:
            yy, inside = y + at * ry, (1 - (at * ry / iy) ** 2) ** 0.5 if abs(at * ry) < iy else 0.0
            for side in (-1, 1):
                if n:
                    canvas.line(x + side * ix * inside, yy, x + side * rx * reach, yy, "soft", 0.15)
        else:
            xx, inside = x + at * rx, (1 - (at * rx / ix) ** 2) ** 0.5 if abs(at * rx) < ix else 0.0
            for side in (-1, 1):
                canvas.line(xx, y + side * iy * inside, xx, y + side * ry * reach, "soft", 0.15)
