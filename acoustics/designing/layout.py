"""A layout of foot and finger holes as numbers, and how the pitch follows them.

A layout is a vector (foot, x1 .. xn, d1 .. dn) in mm: the foot's position, then positions and diameters of the n
finger holes. All else of the flute stays as in a template.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Hole, Instrument
from acoustics.model.air import Air
from acoustics.model.implicit import CENTS, W_STEP as _W_STEP, rates, slope
from acoustics.model.network import Network
from acoustics.model.resonance import open_nodes, resonances

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_STEP: Final = 1e-3
"""Step in mm of the central differences of the characteristic function, itself good to 1e-12."""
_SMALL_STEP: Final = 1e-4
_ASTRAY: Final = 0.02
"""Share of itself by which a followed resonance may be off before it is searched for again."""


def layout_of(instrument: Instrument) -> Array:
    """The layout vector (1 + 2 n,) of a flute."""
    holes = instrument.holes
    return np.array([instrument.foot_x, *(h.x for h in holes), *(h.diameter for h in holes)])


def with_layout(template: Instrument, layout: Array) -> Instrument:
    """The template with foot and finger holes of a layout; walls and undercuts of the holes stay."""
    n = (len(layout) - 1) // 2
    old = template.holes if len(template.holes) == n else (Hole(0.0, 1.0),) * n
    holes = tuple(
        replace(o, x=float(x), diameter=float(d))
        for o, x, d in zip(old, layout[1 : n + 1], layout[n + 1 :], strict=True)
    )
    foot = float(layout[0])
    kept = tuple(p for p in template.bore[:-1] if p[0] < foot)
    return replace(template, bore=(*kept, (foot, template.bore_diameter(foot))), holes=holes)


class PitchModel:
    """Resonances of one template flute under changes of its layout, for a fixed set of fingerings and modes.

    Derivatives come from the characteristic function by the implicit function theorem (see `acoustics.model.implicit`),
    so that no resonance is searched for twice.
    """

    def __init__(
        self, template: Instrument, fingerings: Sequence[str], air: Air, modes: int = 2, losses: bool = True
    ) -> None:
        self.template = template
        self.fingerings = tuple(fingerings)
        self.air = air
        self.modes = modes
        self.losses = losses
        self._base = Geometry.of([template])
        self._open = open_nodes(self.fingerings, self._base)

    def geometry(self, layouts: Array) -> Geometry:
        """The flutes (g) of layouts (g, 1 + 2 n)."""
        layouts = np.atleast_2d(layouts)
        n = (layouts.shape[1] - 1) // 2
        g = self._base.repeat(len(layouts))
        foot = 1e-3 * layouts[:, 0]
        bore_x, bore_r = g.bore_x.copy(), g.bore_r.copy()
        bore_r[:, -1] = g.radius_at(foot[:, None])[:, 0]
        bore_x[:, -1] = foot
        hole_x, hole_r = g.hole_x.copy(), g.hole_r.copy()
        hole_x[:, :n] = 1e-3 * layouts[:, 1 : n + 1]
        hole_r[:, :n] = 0.5e-3 * layouts[:, n + 1 :]
        return replace(g, bore_x=bore_x, bore_r=bore_r, hole_x=hole_x, hole_r=hole_r)

    def search(self, layout: Array) -> Complex:
        """Complex angular frequencies (fingerings, modes) of a layout, rad/s, by a search that misses none.

        NaN where a mode does not exist.
        """
        found = resonances(self.geometry(layout), self.air, self.fingerings, self.modes, self.losses)
        w = 2.0 * np.pi * found.frequency[0] * (1.0 + 0.5j / found.q[0])
        return self.follow(layout, w)

    def follow(self, layout: Array, w: Complex) -> Complex:
        """The resonances near `w` by Newton's method; (fingerings, modes), rad/s. NaN stays NaN."""
        network = Network(self.geometry(layout), self.air, self.losses)
        absent = np.isnan(w)
        w = np.where(absent, w[:, :1], w)
        for _ in range(12):
            both = np.concatenate([w, w * (1.0 + _W_STEP)], axis=1)[None]
            F = network.characteristic(both, self._open)[0]
            f0, f1 = F[:, : self.modes], F[:, self.modes :]
            step = f0 * (w * _W_STEP) / (f1 - f0)
            w = w - step
            if np.all(np.abs(step) <= 1e-7 * np.abs(w)):
                break
        return np.where(absent, np.nan, w)

    def linearise(self, layout: Array, w: Complex) -> tuple[Complex, Array]:
        """The resonances near `w` by a Newton step or more, and their gradient, in one batch.

        Returns the improved resonances (fingerings, modes) in rad/s and cents per mm (fingerings, modes, 1 + 2 n),
        the latter from one-sided differences, good to 1e-4 of their size. NaN in `w` gives NaN, and so does one that is
        not found again.
        """
        size = len(layout)
        moves = _SMALL_STEP * np.concatenate([np.zeros((2, size)), np.eye(size)])
        network = Network(self.geometry(layout + moves), self.air, self.losses)
        for last in (False, True):
            absent = np.isnan(w)
            w = np.where(absent, w[:, :1], w)
            at = np.broadcast_to(w, (size + 2, *w.shape)).copy()
            at[1] *= 1.0 + _W_STEP
            with np.errstate(all="ignore"):  # a resonance that got lost may be anywhere
                F = network.characteristic(at, self._open)
                dF_dw = (F[1] - F[0]) / (_W_STEP * w)
                move = -F[0] / dF_dw
            if last or np.all(np.abs(move) < _ASTRAY * np.abs(w)):
                break
            w = self.search(layout)  # a resonance got lost on the way: find them all again
        dw_dv = -(F[2:] - F[0]) / (_SMALL_STEP * dF_dw)
        found = np.abs(move) < _ASTRAY * np.abs(w)
        w = np.where(found & ~absent, w + move, np.nan)
        return w, np.asarray(CENTS * np.moveaxis(dw_dv.real / w.real, 0, -1))

    def gradient(self, layout: Array, w: Complex) -> Array:
        """Cents per mm (fingerings, modes, 1 + 2 n) of the resonances `w` of a layout."""
        size = len(layout)
        moves = _STEP * np.concatenate([np.eye(size), -np.eye(size)])
        moved = Network(self.geometry(layout + moves), self.air, self.losses)
        here = Network(self.geometry(layout), self.air, self.losses)
        return rates(moved, np.full(size, _STEP), slope(here, w[None], self._open)[0], w, self._open)
