"""How fast charts are computed: one flute alone, a thousand at once, and a plain scalar loop beside them.

Run by hand from the root of the tree, on one core: ``OMP_NUM_THREADS=1 python tests/load/engine_speed.py``. The plain
loop is what one would write first: the same openings, complex Bessel functions from scipy, one fingering and one mode
at a time, and scipy's brentq on the imaginary part of the admittance at the window between the points of a grid.
"""

from __future__ import annotations

import math
import resource
import statistics
import time

import numpy as np
from scipy.optimize import brentq
from scipy.special import jv

from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Body, Hole, Instrument, Window
from acoustics.model.air import Air
from acoustics.model.network import Network
from acoustics.model.resonance import open_nodes, resonances

AIR = Air.moist()
CHART = ["xxxxxx", "xxxxxo", "xxxxoo", "xxxooo", "xxoooo", "oooooo"]
FLUTE = Instrument(
    bore=((-8.0, 15.9), (292.0, 15.9)),
    body=Body("round", 5.0),
    window=Window(5.0, 10.0, None, 90.0),
    holes=tuple(
        Hole(x, d)
        for x, d in zip((128.5, 151.0, 172.0, 199.0, 221.5, 245.5), (8.0, 7.5, 7.0, 7.5, 8.0, 7.0), strict=True)
    ),
)


def plain_chart() -> list[list[float]]:
    """The same chart, scalar: losses, openings one by one, no outer coupling."""
    geometry = Geometry.of([FLUTE])
    network = Network(geometry, AIR)
    a = geometry.bore_r[0, 0]
    S = math.pi * a * a
    x = network.chain.node_x[0]
    found = []
    for fingering in CHART:
        is_open = open_nodes([fingering], geometry)

        def reactance(f: float, is_open: np.ndarray = is_open) -> float:
            w = 2.0 * math.pi * f
            kv = np.sqrt(-1j * w * AIR.density / AIR.viscosity) * a
            kt = kv * math.sqrt(AIR.prandtl)
            fv, ft = (2.0 * jv(1, z) / (z * jv(0, z)) for z in (kv, kt))
            zv = 1j * w * AIR.density / S / (1.0 - fv)
            yt = 1j * w * S / (AIR.density * AIR.speed_of_sound**2) * (1.0 + (AIR.gamma - 1.0) * ft)
            gamma, zc = np.sqrt(zv * yt), np.sqrt(zv / yt)
            openings = network.admittances(np.full((1, 1, 1), w, dtype=complex), is_open)[:, 0, 0, 0]
            Y = openings[-1]
            for i in range(len(x) - 2, -1, -1):
                t = np.tanh(gamma * (x[i + 1] - x[i]))
                Y = (Y + t / zc) / (1.0 + Y * zc * t) + openings[i]
            Y += np.tanh(gamma * (x[0] - geometry.bore_x[0, 0])) / zc
            return float(Y.imag)

        grid = np.arange(200.0, 2600.0, 25.0)
        values = [reactance(float(f)) for f in grid]
        roots = []
        for f1, f2, y1, y2 in zip(grid, grid[1:], values, values[1:], strict=False):
            if y1 < 0.0 <= y2 and len(roots) < 2:
                roots.append(brentq(reactance, f1, f2, xtol=1e-6))
        found.append(roots)
    return found


def main() -> None:
    """Print medians, the ratio, and the memory of a batch."""
    one = Geometry.of([FLUTE])
    for clock, name in ((time.perf_counter, "wall"), (time.process_time, "processor")):
        spent = []
        for _ in range(200):
            begun = clock()
            resonances(one, AIR, CHART)
            spent.append(clock() - begun)
        alone = 1e3 * statistics.median(spent)
        rng = np.random.default_rng(1)
        flutes = one.repeat(1000)
        many = type(flutes)(**{**flutes.__dict__, "hole_r": flutes.hole_r * rng.uniform(0.9, 1.1, flutes.hole_r.shape)})
        spent = []
        for _ in range(3):
            begun = clock()
            resonances(many, AIR, CHART)
            spent.append(clock() - begun)
        batch = 1e3 * min(spent) / len(many)
        begun = clock()
        plain = plain_chart()
        scalar = 1e3 * (clock() - begun)
        print(f"{name}: one chart (6 fingerings, 2 modes, losses) {alone:.2f} ms")
        print(f"{name}: in a batch of 1000 {batch:.3f} ms a flute")
        print(f"{name}: plain scalar loop {scalar:.0f} ms, {scalar / alone:.0f} and {scalar / batch:.0f} times as long")
    off = 1200 * np.log2(resonances(one, AIR, CHART).frequency[0] / np.array(plain))
    print(f"the plain loop, without coupling and series terms, is within {np.abs(off).max():.0f} cents")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
