"""What a design wishes for: the tuning, the octaves, comfortable holes, and a layout to start from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from acoustics.designing.fitting import TUNING_WEIGHT, Goal
from acoustics.designing.layout import Array
from acoustics.designing.limits import upper_hand
from acoustics.designing.request import DesignRequest
from acoustics.notes.music import Target

OCTAVE_NOTES: Final = 7
"""Semitones above the key up to which the second register is weighed: above a fifth it is rarely played."""

CENTS_PER_UNIT: Final = 10.0
"""Cents of an octave or a cross fingering that count as one unit of discomfort."""
UNEVEN_PER_UNIT: Final = 4.0
"""mm of difference between the spacings of one hand that count as one unit."""
HOLE_OVER_BORE: Final = 0.42
"""Diameter of a finger hole over the bore that is easy to cover and vents well (common practice)."""


def goal(request: DesignRequest, targets: Sequence[Target]) -> Goal:
    """Tuning of the chart, octaves by their weight, and comfort, for `acoustics.designing.fitting.fit`."""
    n = request.holes
    weights = np.zeros((len(targets), 2))
    for i, target in enumerate(targets):
        weights[i, 0] = 1.0 / CENTS_PER_UNIT if target.cross else TUNING_WEIGHT
        if target.semitones <= OCTAVE_NOTES and not target.cross:
            weights[i, 1] = request.second_register_weight / CENTS_PER_UNIT
    rows, wanted = _comfort(request, n)
    return Goal(np.array([t.frequency for t in targets]), weights, rows, wanted)


def _comfort(request: DesignRequest, n: int) -> tuple[Array, Array]:
    """Even spacing within each hand, holes of a usual size, holes in the middle of their limits."""
    size = 1 + 2 * n
    rows: list[Array] = []
    wanted: list[float] = []
    low, high = request.limits.diameter
    usual = min(max(HOLE_OVER_BORE * request.bore_diameter, low), high)
    spread = max(0.2 * (high - low), 0.2)
    for hole in range(1, n + 1):
        row = np.zeros(size)
        row[n + hole] = 1.0 / spread
        rows.append(row)
        wanted.append(usual / spread)
    hands = upper_hand(n)
    for hole in range(2, n):
        if hole in (hands, hands + 1):
            continue  # the gap between the hands need not match either hand's spacing
        row = np.zeros(size)
        row[[hole - 1, hole, hole + 1]] = np.array([1.0, -2.0, 1.0]) / UNEVEN_PER_UNIT
        rows.append(row)
        wanted.append(0.0)
    middle = 0.5 * sum(request.limits.spacing)
    for hole in range(1, n):
        if hole != hands:
            row = np.zeros(size)
            row[[hole, hole + 1]] = -0.1, 0.1
            rows.append(row)
            wanted.append(0.1 * middle)
    foot = np.zeros(size)
    foot[0] = 1e-4  # decides nothing; keeps the linear problem of full rank
    return np.array([*rows, foot]), np.array([*wanted, 1e-4 * start_foot(request)])


def start_foot(request: DesignRequest) -> float:
    """A foot to start from, mm: half a wavelength less seven bore radii for head and foot."""
    return _half_wave(request, request.root) - 3.5 * request.bore_diameter


def start(request: DesignRequest, targets: Sequence[Target]) -> Array:
    """A layout to start from, from half wavelengths and the usual end correction of an open hole.

    The correction is that of a hole in a row of like holes (Benade 1976, Fundamentals of Musical Acoustics,
    chapter 21, from memory). It need not be close: the fit does the rest.
    """
    n = request.holes
    bore = request.bore_diameter
    low, high = request.limits.diameter
    diameter = min(max(HOLE_OVER_BORE * bore, low), high)
    chimney = (request.wall + 0.75 * diameter) * (bore / diameter) ** 2
    pitch = min(max(0.06 * _half_wave(request, request.root), 15.0), 34.0)
    correction = 0.5 * pitch * (np.sqrt(1.0 + 4.0 * chimney / pitch) - 1.0)
    own = {t.fingering: t.frequency for t in targets}
    layout = np.empty(1 + 2 * n)
    layout[0] = start_foot(request)
    layout[n + 1 :] = diameter
    x = layout[0]
    for hole in range(n, 0, -1):
        first_open = [f for fingering, f in own.items() if fingering.find("o") == hole - 1]
        wave = _half_wave(request, min(first_open)) if first_open else x
        x = min(wave - 2.8 * bore - correction, x - 1.2 * diameter - 2.0)
        layout[hole] = x
    lowest = request.limits.to_window
    if layout[1] < lowest:  # squeeze the holes into the room there is
        layout[1 : n + 1] = np.linspace(lowest, max(layout[n], lowest + n * (diameter + 3.0)), n)
        layout[0] = max(layout[0], layout[n] + request.limits.to_foot)
    return layout


def _half_wave(request: DesignRequest, frequency: float) -> float:
    return 500.0 * request.air.speed_of_sound / frequency
