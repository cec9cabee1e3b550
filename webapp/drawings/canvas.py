"""A sheet to draw on: shapes in, SVG text out, in the colours of the page or in black on white for paper."""

from collections.abc import Iterable
from enum import StrEnum
from xml.etree import ElementTree as ET

from markupsafe import Markup

from webapp.drawings.lettering import FAMILY


class Theme(StrEnum):
    PAGE = "page"  # colours come from the page's own style sheet, by class: light, dark and print
    PAPER = "paper"  # the drawing carries its colours itself: black on white


# What a colour is for, and what it is on paper. On a page these are classes: `s-ink` for a stroke, `f-ink` for a fill.
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
        self._root = ET.Element("g")
        self._at = [self._root]

    def shape(
        self,
        tag: str,
        geometry: dict[str, float | str],
        fill: str = "none",
        stroke: str = "none",
        width: float = 0.25,
        **more: float | str,
    ) -> ET.Element:
        attributes: dict[str, str] = {}
        classes = []
        for name, colour in (("fill", fill), ("stroke", stroke)):
            if colour in ROLES and self.theme is Theme.PAGE:
                classes.append(f"{name[0]}-{colour}")
            elif name == "fill" or colour != "none":
                attributes[name] = ROLES.get(colour, colour)
        if stroke != "none":
            attributes["stroke-width"] = number(width)
        if classes:
            attributes["class"] = " ".join(classes)
        for name, value in {**geometry, **more}.items():
            key = name.rstrip("_").replace("_", "-")
            attributes[key] = value if isinstance(value, str) else number(value)
        return ET.SubElement(self._at[-1], tag, attributes)

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
        node = self.shape(
            "text",
            {
                "x": x,
                "y": y,
                "font-family": FAMILY,
                "font-size": size,
                "font-weight": str(weight),
                "text-anchor": anchor,
            },
            fill,
        )
        node.text = words

    def open(self, name: str) -> None:
        """Begin a group; `name` tells a reader (and a test) what it holds."""
        self._at.append(ET.SubElement(self._at[-1], "g", {"data-part": name}))

    def close(self) -> None:
        self._at.pop()

    def define(self, tag: str, attributes: dict[str, str], children: list[tuple[str, dict[str, str]]]) -> None:
        """A definition (a gradient, a pattern) for shapes to refer to."""
        node = ET.SubElement(ET.SubElement(self._at[-1], "defs"), tag, attributes)
        for child, its in children:
            ET.SubElement(node, child, its)

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
        root = ET.Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "class": class_,
                "role": "img",
                "width": wide,
                "height": high,
                "viewBox": " ".join(map(number, (left, top, width, height))),
            },
        )
        ET.SubElement(root, "title").text = title
        ET.SubElement(root, "desc").text = description
        root.extend(list(self._root))
        # Every text went through the serializer's escaping: the result is markup by construction.
        return Markup(ET.tostring(root, encoding="unicode"))  # noqa: S704


def data(*items: float | str) -> str:
    """Path data from letters and numbers: data("M", 1, 2, "H", 5, "Z")."""
    return " ".join(item if isinstance(item, str) else number(item) for item in items)


def outline(points: Iterable[tuple[float, float]], first: str = "M") -> str:
    """Path data for straight lines through these points."""
    return " ".join(data("L" if index else first, x, y) for index, (x, y) in enumerate(points))
