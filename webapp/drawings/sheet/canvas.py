"""A canvas to draw on: shapes in, SVG out, in the colours of the page or in black on white for paper."""

from collections.abc import Iterable
from enum import StrEnum
from html import escape

from markupsafe import Markup

from webapp.drawings.sheet.lettering import FAMILY


class Theme(StrEnum):
    PAGE = "page"  # colours come from the page's own style sheet, by class: light, dark and print
    PAPER = "paper"  # the drawing carries its colours itself: black on white


# The purpose of each colour, and its value on paper. On a page these are classes: `s-ink` for strokes, `f-ink` for
# fills.
ROLES = {
    "ink": "#000000",
    "soft": "#404040",
    "rule": "#8c8c8c",
    "sheet": "#ffffff",
    "wood": "#f1ece3",
    "hollow": "#ffffff",
    "band": "#e4e4e4",
    "accent": "#000000",
    "wrong": "#000000",
}


def number(value: float) -> str:
    """A coordinate to a thousandth, without trailing zeros or a negative zero."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


class Canvas:
    """Collects shapes in user units. A colour is a role from ROLES, or a colour of its own such as '#8a5a2b'."""

    def __init__(self, theme: Theme) -> None:
        self.theme = theme
        self._written: list[str] = []
        self._open = 0

    def shape(
        self,
        tag: str,
        geometry: dict[str, float | str],
        fill: str = "none",
        stroke: str = "none",
        width: float = 0.25,
        **more: float | str,
    ) -> None:
        self._written.append(self._element(tag, geometry, fill, stroke, width, more) + "/>")

    def _element(
        self,
        tag: str,
        geometry: dict[str, float | str],
        fill: str,
        stroke: str,
        width: float,
        more: dict[str, float | str],
    ) -> str:
        """A start tag up to, and without, its closing bracket."""
        written = [f"<{tag}"]
        classes = []
        for name, colour in (("fill", fill), ("stroke", stroke)):
            if colour in ROLES and self.theme is Theme.PAGE:
                classes.append(f"{name[0]}-{colour}")
            elif name == "fill" or colour != "none":
                written.append(f'{name}="{escape(ROLES.get(colour, colour))}"')
        if stroke != "none":
            written.append(f'stroke-width="{number(width)}"')
        if classes:
            written.append(f'class="{" ".join(classes)}"')
        for name, value in (*geometry.items(), *more.items()):
            text = escape(value) if isinstance(value, str) else number(value)
            written.append(f'{name.replace("_", "-")}="{text}"')
        return " ".join(written)

    def line(
        self, x1: float, y1: float, x2: float, y2: float, stroke: str = "ink", width: float = 0.25, **more: float | str
    ) -> None:
        self.shape("line", {"x1": x1, "y1": y1, "x2": x2, "y2": y2}, "none", stroke, width, **more)

    def rect(
        self,
        x: float,
        y: float,
        w: float,
        h: float,
        fill: str = "none",
        stroke: str = "none",
        width: float = 0.25,
        **more: float | str,
    ) -> None:
        self.shape("rect", {"x": x, "y": y, "width": w, "height": h}, fill, stroke, width, **more)

    def circle(
        self,
        x: float,
        y: float,
        r: float,
        fill: str = "none",
        stroke: str = "none",
        width: float = 0.25,
        **more: float | str,
    ) -> None:
        self.shape("circle", {"cx": x, "cy": y, "r": r}, fill, stroke, width, **more)

    def path(self, d: str, fill: str = "none", stroke: str = "none", width: float = 0.25, **more: float | str) -> None:
        self.shape("path", {"d": d}, fill, stroke, width, **more)

    def polygon(
        self,
        points: list[tuple[float, float]],
        fill: str = "none",
        stroke: str = "none",
        width: float = 0.25,
        **more: float | str,
    ) -> None:
        self.path(outline(points) + "Z", fill, stroke, width, **more)

    def text(
        self, x: float, y: float, words: str, size: float, anchor: str = "start", weight: int = 400, fill: str = "ink"
    ) -> None:
        geometry: dict[str, float | str] = {"x": x, "y": y, "font-family": FAMILY, "font-size": size}
        how: dict[str, float | str] = {"font-weight": str(weight), "text-anchor": anchor}
        self._written.append(f"{self._element('text', geometry, fill, 'none', 0, how)}>{escape(words)}</text>")

    def open(self, name: str) -> None:
        """Begin a group; `name` tells a reader (and a test) what it holds."""
        self._written.append(_start("g", {"data-part": name}) + ">")
        self._open += 1

    def close(self) -> None:
        self._written.append("</g>")
        self._open -= 1

    def define(self, tag: str, attributes: dict[str, str], children: list[tuple[str, dict[str, str]]]) -> None:
        """A definition (a gradient, a pattern) for shapes to refer to."""
        inner = "".join(_start(child, its) + "/>" for child, its in children)
        self._written.append(f"<defs>{_start(tag, attributes)}>{inner}</{tag}></defs>")

    def svg(
        self,
        box: tuple[float, float, float, float],
        title: str,
        description: str,
        class_: str,
        size: tuple[str, str] | None = None,
    ) -> Markup:
        """The finished drawing; `box` is left, top, width, height; `size` what it measures outside (default: mm)."""
        left, top, width, height = box
        wide, high = size or (f"{number(width)}mm", f"{number(height)}mm")
        assert self._open == 0, "a group was left open"
        root = {
            "xmlns": "http://www.w3.org/2000/svg",
            "class": class_,
            "role": "img",
            "width": wide,
            "height": high,
            "viewBox": data(left, top, width, height),
        }
        said = f"<title>{escape(title)}</title><desc>{escape(description)}</desc>"
        # Every name and value went through escape(): the result is markup by construction.
        return Markup(f"{_start('svg', root)}>{said}{''.join(self._written)}</svg>")  # noqa: S704


def _start(tag: str, attributes: dict[str, str]) -> str:
    return f"<{tag}" + "".join(f' {name}="{escape(value)}"' for name, value in attributes.items())


def data(*items: float | str) -> str:
    """Path data from letters and numbers: data("M", 1, 2, "H", 5, "Z")."""
    return " ".join(item if isinstance(item, str) else number(item) for item in items)


def outline(points: Iterable[tuple[float, float]], first: str = "M") -> str:
    """Path data for straight lines through these points."""
    return " ".join(data("L" if index else first, x, y) for index, (x, y) in enumerate(points))
