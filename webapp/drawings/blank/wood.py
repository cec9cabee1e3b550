"""Wood on the screen: its colour, its lights and shadows, its grain. The same seed always grows the same grain."""

import random
import re

_HEX = re.compile(r"#[0-9a-fA-F]{6}")

Rgb = tuple[int, int, int]


def rgb(colour: str) -> Rgb:
    """The three parts of '#rrggbb'. Raises ValueError naming the colour otherwise."""
    if not _HEX.fullmatch(colour):
        raise ValueError(f"wood_colour: {colour!r} is not of the form #rrggbb")
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def mix(colour: str, other: str, share: float) -> str:
    """`colour` mixed with `share` (0..1) of `other`."""
    return "#" + "".join(f"{round(a + (b - a) * share):02x}" for a, b in zip(rgb(colour), rgb(other), strict=True))


def darker(colour: str, share: float) -> str:
    return mix(colour, "#1c0f05", share)


def lighter(colour: str, share: float) -> str:
    return mix(colour, "#fff3dc", share)


def is_dark(colour: str) -> bool:
    red, green, blue = rgb(colour)
    return 0.299 * red + 0.587 * green + 0.114 * blue < 110


def grain(seed: int, length: float, high: float) -> list[list[tuple[float, float]]]:
    """Grain lines in a face `length` by `high` [mm]: each a few points to be joined by a smooth curve.

    They run along the face and stay inside it, closer together toward one side as in a board cut off the middle.
    """
    chance = random.Random(seed)  # noqa: S311 - an ornament, not a secret
    lines = []
    lean = chance.uniform(-0.10, 0.10) * high
    count = max(4, round(high / 4.2))
    for index in range(count):
        share = ((index + chance.uniform(0.25, 0.75)) / count) ** 1.25
        start = chance.uniform(0, 0.18) * length if chance.random() < 0.4 else 0.0
        end = length * (1 - chance.uniform(0, 0.22)) if chance.random() < 0.4 else length
        points = []
        for step in range(4):
            x = start + (end - start) * step / 3
            y = share * high + lean * (step / 3 - 0.5) + chance.uniform(-0.025, 0.025) * high
            points.append((x, min(high - 0.6, max(0.6, y))))
        lines.append(points)
    return lines
