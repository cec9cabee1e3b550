"""Print the engine against finite elements of whole flutes, in cents: ``python tests/load/engine_accuracy.py``."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.resonance import resonances

DATA = Path(__file__).parents[1] / "reference" / "data" / "flutes_fem.json"


def main() -> None:
    """Print one line for each flute and fingering, then the maximum and the rms."""
    document = json.loads(DATA.read_text())
    air = Air.from_json(document["air"])
    every: dict[str, list[np.ndarray]] = {"lossless": [], "losses": []}
    for flute in document["flutes"]:
        geometry = Geometry.of([Instrument.from_json(flute["instrument"])])
        fingerings = [case["fingering"] for case in flute["cases"]]
        rows = {kind: resonances(geometry, air, fingerings, 2, kind == "losses").frequency[0] for kind in every}
        for i, case in enumerate(flute["cases"]):
            line = f"{flute['name']:10} {case['fingering']:8}"
            for kind, found in rows.items():
                if kind in case:
                    off = 1200 * np.log2(found[i] / np.array(case[kind]))
                    every[kind].append(off)
                    line += f"  {kind} {off[0]:+5.2f} {off[1]:+5.2f}"
            print(line)
    for kind, values in every.items():
        table = np.array(values)
        print(f"{kind}: max {np.abs(table).max():.2f}, rms {np.sqrt(np.mean(table**2)):.2f} cents, {table.size} modes")


if __name__ == "__main__":
    main()
