"""A share as a bar with its confidence interval, for a table's row beside its numbers."""

from markupsafe import Markup

WIDTH, HEIGHT = 200.0, 22.0
BAR, EDGE = 10.0, 3.0


def share_bar(share: float, interval: tuple[float, float], scrap: bool = False) -> Markup:
    """The bar as SVG, from 0 at the left to all at the right. The numbers are given beside it in words."""
    across = WIDTH - 2 * EDGE

    def at(value: float) -> float:
        return EDGE + across * min(1.0, max(0.0, value))

    low, high = (at(value) for value in interval)
    top, middle = (HEIGHT - BAR) / 2, HEIGHT / 2
    kind = "yield-bar yield-bar--scrap" if scrap else "yield-bar"
    return Markup(  # noqa: S704  (numbers only)
        f'<svg class="{kind}" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" preserveAspectRatio="none" aria-hidden="true">'
        f'<rect class="yield-bar__all" x="{EDGE}" y="{top:.1f}" width="{across:.1f}" height="{BAR}"/>'
        f'<rect class="yield-bar__part" x="{EDGE}" y="{top:.1f}" width="{at(share) - EDGE:.1f}" height="{BAR}"/>'
        f'<path class="yield-bar__span" fill="none" d="M{low:.1f} {middle}H{high:.1f}'
        f'M{low:.1f} {middle - 5}v10M{high:.1f} {middle - 5}v10"/></svg>'
    )
