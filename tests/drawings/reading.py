"""Reads a drawing back from its SVG: shapes by part, and how much room each text takes.

Text widths come from Pillow, not from the code under test.
"""

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from xml.etree import ElementTree as ET

import font_source_sans_pro
from PIL import ImageFont

SVG = "{http://www.w3.org/2000/svg}"
_FONTS = {"400": "Regular", "600": "Semibold", "700": "Bold"}
_SIZE = 200  # px, large enough for widths to a thousandth


@cache
def _font(weight: str) -> ImageFont.FreeTypeFont:
    folder = Path(font_source_sans_pro.__file__).parent / "files"
    return ImageFont.truetype(str(folder / f"SourceSansPro-{_FONTS[weight]}.ttf"), _SIZE)


@dataclass(frozen=True)
class Box:
    words: str
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box") -> bool:
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


class Drawing:
    def __init__(self, text: str) -> None:
        self.root = ET.fromstring(text)
        self.box = tuple(float(part) for part in self.root.attrib["viewBox"].split())

    @property
    def words(self) -> list[str]:
        return [node.text or "" for node in self.root.iter(f"{SVG}text")]

    def part(self, name: str) -> ET.Element:
        found = [node for node in self.root.iter(f"{SVG}g") if node.get("data-part") == name]
        assert found, f"no part {name!r}"
        return found[0]

    def has(self, name: str) -> bool:
        return any(node.get("data-part") == name for node in self.root.iter(f"{SVG}g"))

    def texts(self) -> list[Box]:
        """The ink of every text: advance width, cap height above the line, a little below it."""
        boxes = []
        for node in self.root.iter(f"{SVG}text"):
            words, size = node.text or "", float(node.attrib["font-size"])
            wide = _font(node.attrib["font-weight"]).getlength(words) * size / _SIZE
            x, y = float(node.attrib["x"]), float(node.attrib["y"])
            left = {"start": x, "middle": x - wide / 2, "end": x - wide}[node.attrib["text-anchor"]]
            low = 0.2 * size if set(words) & set("gjpqy,()") else 0.0
            boxes.append(Box(words, left, y - 0.66 * size, left + wide, y + low))
        return boxes

    def collisions(self) -> list[tuple[str, str]]:
        boxes = self.texts()
        return [(a.words, b.words) for i, a in enumerate(boxes) for b in boxes[i + 1 :] if a.meets(b)]

    def outside(self) -> list[str]:
        """Texts that run off the sheet."""
        left, top, width, height = self.box
        return [
            box.words
            for box in self.texts()
            if box.left < left - 1e-6
            or box.right > left + width + 1e-6
            or box.top < top - 1e-6
            or box.bottom > top + height + 1e-6
        ]


def numbers(node: ET.Element, *names: str) -> tuple[float, ...]:
    return tuple(float(node.attrib[name]) for name in names)


def points(path: str) -> list[tuple[float, float]]:
    """The points of path data made of M, L and Z."""
    values = [float(item) for item in path.replace("Z", " ").split() if item not in "ML"]
    return list(zip(values[::2], values[1::2], strict=True))
