"""Fit the constants of the head to ``data/head_static.json`` and print them for ``acoustics/model/head.py``.

Every sixth head is held out (``tests/reference/test_head.py`` judges by those). Run from the root of the tree:
``python -m tests.reference.fem.fit_head``.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Block, Body, Instrument, Window
from acoustics.model import head

DATA = Path(__file__).parents[1] / "data" / "head_static.json"
HELD_OUT = 6
FOOT = 300.0
PENALTY = 0.03


def flute_of(point: dict) -> Instrument:
    """A flute with the head of one line, whatever its foot."""
    window, block = point["window"], point["block"]
    return Instrument(
        bore=((-window["length"] - point["stub"], point["bore"]), (FOOT, point["bore"])),
        body=Body(**point["body"]),
        window=Window(**window),
        block=Block(**block) if block else None,
    )


def load() -> tuple[Geometry, np.ndarray, np.ndarray]:
    """Return the heads, their inertances over density [1/m], and which are held out."""
    points = json.loads(DATA.read_text())["points"]
    geometry = Geometry.of([flute_of(point) for point in points])
    area = np.pi * geometry.bore_r[:, 0] ** 2
    value = 1e-3 * np.array([point["inertance_mm"] for point in points]) / area
    return geometry, value, np.arange(len(points)) % HELD_OUT == 0


def off(geometry: Geometry, value: np.ndarray) -> np.ndarray:
    """By how many per cent the engine is above finite elements."""
    return 100.0 * (head.Head(geometry, geometry.bore_r[:, 0]).inertance / value - 1.0)


def main() -> None:
    """Fit and print."""
    geometry, value, held = load()
    start = np.array(head.HEAD)

    def residual(p: np.ndarray) -> np.ndarray:
        head.HEAD = tuple(p)
        return np.concatenate([off(geometry, value)[~held], PENALTY * (p - start) / np.abs(start)])

    head.HEAD = tuple(least_squares(residual, start).x.round(3).tolist())
    found = off(geometry, value)
    for name, rows in (("fitted", ~held), ("held out", held)):
        print(f"{name}: rms {np.sqrt(np.mean(found[rows] ** 2)):.3f} %, most {np.abs(found[rows]).max():.2f} %")
    print(f"HEAD = {head.HEAD}")


if __name__ == "__main__":
    main()
