"""What the engine refuses, in the bench's words: a path into its documents means nothing to a maker."""

import re
from typing import Final

from acoustics.errors import InvalidInput

_NAMES: Final = {
    "body.wall": "the wall",
    "window.length": "the window's length",
    "window.width": "the window's width",
    "window.wall": "the wall at the window",
    "window.edge_angle": "the splitting edge's angle",
    "window.edge_height": "the splitting edge's height",
    "flue.depth": "the flue's depth",
    "flue.width": "the flue's width",
    "flue.length": "the flue's length",
    "chamber.length": "the slow air chamber's length",
    "chamber.diameter": "the slow air chamber's bore",
    "block.height": "the block's height",
    "block.width": "the block's width",
    "block.length": "the block's length",
    "block.setback": "the block's setback",
    "finger.depth": "how far fingers bulge into the holes",
}
_PARTS: Final = {
    "x": "the place of ",
    "diameter": "the width of ",
    "wall": "the wall at ",
    "undercut": "the undercut of ",
}
_HOLE: Final = re.compile(r"\b(foot_)?holes\[(\d+)\](?:\.(\w+))?")
_BORE: Final = re.compile(r"\bbore\[(\d+)\](?:\[([01])\])?")


def in_words(text: str) -> str:
    """The text with every path of the engine's documents said as the thing that it means."""

    def hole(found: re.Match[str]) -> str:
        name = f"{'foot hole' if found[1] else 'hole'} {int(found[2]) + 1}"
        return _PARTS.get(found[3] or "", "") + name

    def bore(found: re.Match[str]) -> str:
        return (
            "the plug's face" if found[1] == "0" and found[2] == "0" else "the bore" if found[2] == "1" else "the foot"
        )

    for path, words in _NAMES.items():
        text = re.sub(rf"\b{re.escape(path)}\b", words, text)
    return _BORE.sub(bore, _HOLE.sub(hole, text)).replace("_", " ")


def said(error: InvalidInput) -> str:
    """What was refused, and the limit; where that names the thing itself, once."""
    what, limit = in_words(error.field), in_words(error.limit)
    return f"{what} {limit}" if limit.startswith("must ") else limit
