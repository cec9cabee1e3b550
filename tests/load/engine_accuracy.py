"""Print the engine against finite elements of whole flutes, in cents: ``python tests/load/engine_accuracy.py``."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.resonance import resonances

DATA = Path(__file__).parents[1] / "reference" / "data"
FILES = ("flutes_fem.json", "flutes_fem_head.json")
"""Idealised flutes, and flutes with the head as it is made."""


def main() -> None:
    """Print both files."""
    for name in FILES:
        print(name)
        compare(json.loads((DATA / name).read_text()))


def compare(document: dict) -> None:
    """Print one line for each flute and fingering, then the maximum and the rms."""
    air = Air.from_json(document["air"])
    every: dict[str, list[np.ndarray]] = {"lossless": [], "losses": []}
    for flute in document["flutes"]:
        geometry = Geometry.of([Instrument.from_json(flute["instrument"])])
        fingerings = [case["fingering"] for case in flute["cases"]]
        rows = {kind: resonances(geometry, air, fingerings, 2, kind == "losses").frequency[0] for kind in every}
        for i, case in enumerate(flute["cases"]):
            line = f"{flute['name']:20} {case['fingering']:8}"
            for kind, found in rows.items():
                if kind in case:
                    off = 1200 * np.log2(found[i] / np.array(case[kind]))
                    every[kind].append(off)
                    line += f"  {kind} {off[0]:+5.2f} {off[1]:+5.2f}"
            print(line)
    for kind, values in every.items():
        if not values:
            continue
        table = np.array(values)
        print(f"{kind}: max {np.abs(table).max():.2f}, rms {np.sqrt(np.mean(table**2)):.2f} cents, {table.size} modes")


if __name__ == "__main__":
    main()
