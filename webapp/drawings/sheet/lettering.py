"""The width of text in the typeface of the drawings, so that no two texts overlap."""

from functools import cache
from pathlib import Path

import font_source_sans_pro
from fontTools.ttLib import TTFont

FAMILY = "Source Sans Pro"

_FILES = {400: "SourceSansPro-Regular.ttf", 600: "SourceSansPro-Semibold.ttf", 700: "SourceSansPro-Bold.ttf"}


@cache
def _advances(weight: int) -> dict[str, float]:
    """Advance of each character in units of the type size."""
    path = Path(font_source_sans_pro.__file__).parent / "files" / _FILES[weight]
    with TTFont(path, lazy=True) as font:
        widths, per_em = font["hmtx"].metrics, font["head"].unitsPerEm
        return {chr(code): widths[glyph][0] / per_em for code, glyph in font.getBestCmap().items()}


def text_width(words: str, size: float, weight: int = 400) -> float:
    """Width of a line of text, in the unit of `size`; a character that the font lacks counts as one em."""
    advances = _advances(weight)
    return size * sum(advances.get(character, 1.0) for character in words)


def spread(wanted: list[float], widths: list[float], low: float, high: float, gap: float) -> list[float]:
    """Centres for labels on a line: as near as can be to `wanted` (rising), none over another, all within low..high.

    Least squares by pooling: labels that would touch become one row whose middle is the mean of what its
    members want. Where they do not all fit, they are set evenly from `low` and run past `high`.
    """
    blocks: list[tuple[float, float, int]] = []  # left edge, width, labels in it
    rows: list[list[float]] = []  # per block: the left edge each member would like the block to have
    for centre, width in zip(wanted, widths, strict=True):
        blocks.append((centre - width / 2, width, 1))
        rows.append([centre - width / 2])
        while True:
            left, wide, count = blocks[-1]
            left = max(low, min(left, high - wide))
            blocks[-1] = (left, wide, count)
            if len(blocks) < 2:
                break
            before, before_wide, before_count = blocks[-2]
            if before + before_wide + gap <= left + 1e-9:
                break
            shift = before_wide + gap
            likes = rows[-2] + [like - shift for like in rows[-1]]
            blocks[-2:] = [(sum(likes) / len(likes), shift + wide, before_count + count)]
            rows[-2:] = [likes]
    centres: list[float] = []
    for left, _, count in blocks:
        at = left
        for width in widths[len(centres) : len(centres) + count]:
            centres.append(at + width / 2)
            at += width + gap
    return centres
