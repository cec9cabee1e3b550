"""What the hand, the drills and the wood allow: limits on a layout of finger holes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from acoustics import fields
from acoustics.errors import InvalidInput
from acoustics.saying import Saying

Array = NDArray[np.float64]

BRIDGE: Final = 3.0
"""Wood left between the rims of neighbouring holes, window and foot, mm (common practice, no published source)."""

_FIELDS: Final = ("spacing", "diameter", "hands_gap", "reach", "to_window", "to_foot")


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits in mm, centre to centre.

    `spacing`: neighbouring holes of one hand; `hands_gap`: last hole of the upper to first of the lower hand;
    `reach`: first to last hole; `diameter`: of holes; `to_window`: splitting edge to hole 1, at least;
    `to_foot`: last hole to the foot, at least.
    """

    spacing: tuple[float, float]
    diameter: tuple[float, float]
    hands_gap: tuple[float, float]
    reach: float
    to_window: float
    to_foot: float

    @staticmethod
    def from_json(document: object, default: Limits, field: str = "limits") -> Limits:
        """Limits from a JSON object; what is absent comes from `default`. Raises InvalidInput."""
        given = fields.mapping(document, field, _FIELDS)
        read: dict[str, Any] = {}
        for name, low, high in (("spacing", 8, 100), ("diameter", 1, 20), ("hands_gap", 0, 200)):
            if name in given:
                read[name] = _pair(given[name], f"{field}.{name}", low, high)
        for name, low, high in (("reach", 30, 600), ("to_window", 5, 500), ("to_foot", 3, 500)):
            if name in given:
                read[name] = fields.number(given[name], f"{field}.{name}", low, high, "mm")
        return replace(default, **read)

    def to_json(self) -> dict[str, Any]:
        """The limits as the JSON object that `from_json` reads."""
        document = {name: getattr(self, name) for name in _FIELDS}
        return {k: list(v) if isinstance(v, tuple) else v for k, v in document.items()}


@dataclass(frozen=True, slots=True)
class Bound:
    """One linear limit `row @ v >= least` on a layout v = (foot, x1..xn, d1..dn).

    `what` names it; `limit` is the maker's figure in mm; `least_side` tells a lower limit from an upper one;
    `gives` whether it may be broken where no layout is possible otherwise.
    """

    what: str
    limit: float
    least_side: bool
    row: Array
    least: float
    gives: bool = True

    def value(self, layout: Array) -> float:
        """What the layout has, in mm."""
        raw = float(self.row @ layout)
        return raw if self.least_side else -raw

    def text(self) -> Saying:
        side = "at least" if self.least_side else "at most"
        return Saying(f"{self.what}: {side} {{0}}", (self.limit,))


def upper_hand(holes: int) -> int:
    """How many holes the upper hand covers: three of six, two of five (common practice)."""
    return holes // 2


def default_limits(root: float, bore: float) -> Limits:
    """Limits for a grown hand on a flute with fundamental `root` (Hz) and bore (mm).

    For A4 the fingers of a hand lie 19 to 37 mm apart. Small flutes crowd them: the least spacing shrinks with
    the flute, to 10.5 mm where fingers touch. Long flutes spread them a little further. Common practice, no
    published source.
    """
    size = 440.0 / root
    least = round(min(19.0, max(10.5, 19.0 * size**0.65)), 1)
    most = round(min(44.0, max(30.0, 37.0 * size**0.3)), 1)
    gap = round(min(80.0, max(40.0, 60.0 * size**0.5)), 1)
    reach = round(min(240.0, max(120.0, 190.0 * size**0.5)), 0)
    smallest = round(min(5.0, max(3.0, 0.26 * bore)), 1)
    largest = round(min(11.0, max(5.5, 0.55 * bore)), 1)
    return Limits(
        (least, most),
        (smallest, largest),
        (least, gap),
        reach,
        to_window=round(2.0 * bore, 1),
        to_foot=round(0.75 * bore, 1),
    )


def bounds(limits: Limits, holes: int) -> list[Bound]:
    """All limits on a layout of `holes` finger holes as linear inequalities."""
    n = holes
    size = 1 + 2 * n

    def row(*terms: tuple[int, float]) -> Array:
        r = np.zeros(size)
        for index, factor in terms:
            r[index] = factor
        return r

    def x(hole: int) -> int:
        return hole

    def d(hole: int) -> int:
        return n + hole

    found: list[Bound] = []
    for hole in range(1, n):
        step = row((x(hole + 1), 1.0), (x(hole), -1.0))
        hands = hole == upper_hand(n)
        low, high = limits.hands_gap if hands else limits.spacing
        name = "gap between the hands" if hands else f"spacing of holes {hole} and {hole + 1}"
        found.append(Bound(name, low, True, step, low))
        found.append(Bound(name, high, False, -step, -high))
        rims = step + row((d(hole), -0.5), (d(hole + 1), -0.5))
        found.append(Bound(f"wood between holes {hole} and {hole + 1}", BRIDGE, True, rims, BRIDGE, gives=False))
    reach = row((x(n), -1.0), (x(1), 1.0))
    found.append(Bound(f"reach from hole 1 to hole {n}", limits.reach, False, reach, -limits.reach))
    found.append(Bound("splitting edge to hole 1", limits.to_window, True, row((x(1), 1.0)), limits.to_window))
    to_foot = row((0, 1.0), (x(n), -1.0))
    found.append(Bound(f"hole {n} to the foot", limits.to_foot, True, to_foot, limits.to_foot))
    rim = row((0, 1.0), (x(n), -1.0), (d(n), -0.5))
    found.append(Bound(f"wood between hole {n} and the foot", BRIDGE, True, rim, BRIDGE, gives=False))
    rim = row((x(1), 1.0), (d(1), -0.5))
    found.append(Bound("wood between window and hole 1", BRIDGE, True, rim, BRIDGE, gives=False))
    low, high = limits.diameter
    for hole in range(1, n + 1):
        found.append(Bound(f"diameter of hole {hole}", low, True, row((d(hole), 1.0)), low, gives=False))
        found.append(Bound(f"diameter of hole {hole}", high, False, row((d(hole), -1.0)), -high, gives=False))
    return found


def matrix(limits: Sequence[Bound]) -> tuple[Array, Array]:
    """The inequalities `G v >= h` of a list of bounds."""
    return np.array([b.row for b in limits]), np.array([b.least for b in limits])


def _pair(value: object, field: str, low: float, high: float) -> tuple[float, float]:
    pair = fields.sequence(value, field, at_most=2, at_least=2)
    least = fields.number(pair[0], f"{field}[0]", low, high, "mm")
    most = fields.number(pair[1], f"{field}[1]", low, high, "mm")
    if least > most:
        raise InvalidInput(field, [least, most], "the first must not exceed the second")
    return least, most
