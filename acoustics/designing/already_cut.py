"""What is already cut on a blank, as limits on what it can still become, and as obstacles where it went too far."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from acoustics.designing import findings
from acoustics.designing.layout import Array, layout_of
from acoustics.designing.limits import BRIDGE, Bound
from acoustics.flute.instrument import Instrument
from acoustics.saying import Saying


def beside_what_is_cut(start: Array, blank: Instrument, undrilled: Collection[int]) -> Array:
    """The blank's layout, the holes that are not drilled where and as wide as a design would begin with them.

    They are set between their drilled neighbours, in even steps, so that the search starts from a flute.
    """
    n = len(blank.holes)
    layout = layout_of(blank)
    known = [0, *(i for i in range(1, n + 1) if i not in undrilled)]
    places = np.array([0.0, *(layout[i] for i in known[1:])])
    after = places[-1] + (np.arange(n + 1) - known[-1]) * max(15.0, (start[n] - start[1]) / (n - 1))
    between = np.interp(np.arange(n + 1), known, places)
    room = np.where(np.arange(n + 1) > known[-1], after, between)
    for number in undrilled:
        layout[number] = start[number] if _fits(start[number], number, layout, undrilled) else room[number]
        layout[n + number] = start[n + number]
    return layout


def _fits(x: float, number: int, layout: Array, undrilled: Collection[int]) -> bool:
    """Whether a place lies between the drilled neighbours of a hole, with some wood on either side."""
    n = (len(layout) - 1) // 2
    drilled = [i for i in range(1, n + 1) if i not in undrilled]
    above = max((layout[i] for i in drilled if i < number), default=0.0)
    below = min((layout[i] for i in drilled if i > number), default=layout[0])
    return bool(above + 10.0 < x < below - 10.0)


def broken_for_good(
    limits: Sequence[Bound], layout: Array, undrilled: Collection[int]
) -> tuple[list[Bound], list[Saying]]:
    """Firm limits, relaxed to what is already cut where that goes beyond them, and the obstacles in words.

    Holes only get larger and the foot only gets shorter: none of these can be undone.
    """
    n = (len(layout) - 1) // 2
    open_still = [i for number in undrilled for i in (number, n + number)]
    eased, obstacles = [], []
    for bound in limits:
        value = float(bound.row @ layout)
        # What is too narrow can still grow.
        grows = bound.least_side and not np.any(bound.row[: n + 1])
        if bound.gives or grows or value >= bound.least - findings.BINDING or np.any(bound.row[open_still]):
            eased.append(bound)
            continue
        eased.append(replace(bound, least=value, limit=bound.value(layout)))
        side = "less than the" if bound.least_side else "more than the"
        obstacles.append(
            Saying(f"{bound.what} is already {{0}}, {side} {{1}} allowed", (bound.value(layout), bound.limit))
        )
    return eased, obstacles


def no_room(undrilled: Collection[int]) -> list[Saying]:
    if not undrilled:
        return [Saying("the sizes already cut contradict one another: measure them again")]
    names = ", ".join(map(str, sorted(undrilled)))
    holes = f"hole {names}" if len(undrilled) == 1 else f"holes {names}"
    return [Saying(f"there is no room for {holes} beside what is already cut")]


def squeezed(layout: Array, undrilled: Collection[int]) -> Array:
    """What is cut, with pinholes evenly between for those that have no room: the nearest layout there is."""
    n = (len(layout) - 1) // 2
    known = [0, *(i for i in range(1, n + 1) if i not in undrilled), n + 1]
    places = np.array([0.0, *(layout[i] for i in known[1:-1]), layout[0]])
    found = layout.copy()
    for number in undrilled:
        found[number] = np.interp(number, known, places)
        found[n + number] = 1.0
    return found


def crowded(start: Array, blank: Instrument, n: int) -> Array:
    """Holes squeezed evenly into a blank that is too short for them: the nearest layout there is."""
    layout = start.copy()
    layout[0] = blank.foot_x
    layout[1 : n + 1] = np.linspace(0.0, blank.foot_x, n + 2)[1:-1]
    layout[n + 1 :] = max(1.0, min(float(start[n + 1]), blank.foot_x / (n + 1) - BRIDGE))
    return layout


def already_cut(blank: Instrument, undrilled: Collection[int]) -> list[Bound]:
    """The foot can only get shorter, and holes that are drilled only larger."""
    n = len(blank.holes)
    found = []
    for i, hole in enumerate(blank.holes, 1):
        if i not in undrilled:
            row = np.zeros(1 + 2 * n)
            row[n + i] = 1.0
            found.append(Bound(f"hole {i} as it is", hole.diameter, True, row, hole.diameter, gives=False))
    return found


def foot_there_is(blank: Instrument, n: int) -> Bound:
    row = np.zeros(1 + 2 * n)
    row[0] = -1.0
    return Bound("the present foot", blank.foot_x, False, row, -blank.foot_x, gives=False)
