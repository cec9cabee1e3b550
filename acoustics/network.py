"""The flute as a chain of ducts with openings: one complex function whose zeros are the resonances.

The bore is marched from the plug to the foot. Unknowns are the pressure at the plug and the volume flow out of each
opening; each opening gives one equation (pressure inside = own impedance times own flow + what the flow of the other
openings adds outside), and no flow is left beyond the foot. The determinant of that system,
``Network.characteristic``, is analytic in the complex angular frequency and free of poles below the quarter-wave
resonance of a chimney.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from acoustics.air import Air
from acoustics.ducts import Complex, Real, cone, line
from acoustics.geometry import Geometry
from acoustics.openings import (
    foot_dispersion,
    foot_length,
    hole_inside_length,
    hole_outside_length,
    saddle_length,
    series_length,
)
from acoustics.outside import mutual_inertance
from acoustics.window import window_inertance

Bool = NDArray[np.bool_]

STEEPEST = 0.06
"""Change of log radius within one lossy cone: keeps its error, which goes as the square, under 0.03 cent."""


class Network:
    """``n`` flutes in one air, ready to be evaluated at any frequency and fingering.

    Nodes are the window, the holes in order, and the foot: ``N = h + 2`` of them. Arrays over nodes have the node axis
    first, then ``(n, f, m)``: flutes, fingerings, modes.
    """

    def __init__(self, geometry: Geometry, air: Air, losses: bool = True) -> None:
        self.geometry = geometry
        self.air = air
        self.losses = losses
        g = geometry
        self.node_x = np.concatenate([-0.5 * g.window_length[:, None], g.hole_x, g.bore_x[:, -1:]], axis=1)
        self.node_r = g.radius_at(self.node_x)
        self.area = np.pi * self.node_r[:, 0] ** 2
        self._pieces = self._cut_bore()
        self._set_openings()

    # geometry, once

    def _cut_bore(self) -> list[tuple[int, Real, Real, Real]]:
        """Return (node that it leads to, length, first radius, last radius) of each piece of bore, mouth to foot."""
        g = self.geometry
        pieces = []
        edges = [g.bore_x[:, 0], *self.node_x.T]
        for node in range(self.node_x.shape[1]):
            start, end = edges[node], edges[node + 1]
            cuts = [start, *(np.clip(g.bore_x[:, i], start, end) for i in range(1, g.bore_x.shape[1] - 1)), end]
            for left, right in pairwise(cuts):
                length = right - left
                if (length <= 0).all():
                    continue
                r1, r2 = g.radius_at(left[:, None])[:, 0], g.radius_at(right[:, None])[:, 0]
                count = 1 + int(np.abs(np.log(r2 / r1)).max() / STEEPEST)
                for i in range(count):
                    first, last = (r1 + (r2 - r1) * part / count for part in (i, i + 1))
                    pieces.append((node, _spread(length / count), _spread(first), _spread(last)))
        return pieces

    def _set_openings(self) -> None:
        g = self.geometry
        h = g.hole_x.shape[1]
        a_foot = self.node_r[:, -1]
        r_foot = a_foot + g.wall
        self._foot = _spread(foot_length(a_foot, r_foot)), _spread(foot_dispersion(a_foot, r_foot)), _spread(a_foot)
        a_window = self.node_r[:, 0]
        self._window = _spread(
            window_inertance(g.window_length, g.window_width, g.window_wall, a_window, a_window + g.window_wall)
        )
        if h:
            a, b, t = self.node_r[:, 1:-1], g.hole_r, g.hole_wall
            inner = b + g.undercut
            outside = a + t
            self._hole_r = _nodes(np.sqrt(b * inner))
            self._hole_inside = _nodes(hole_inside_length(inner, a) * (b / inner))
            self._hole_height = _nodes(t + saddle_length(inner, a))
            self._hole_outside = _nodes(hole_outside_length(b, outside))
            yes, no = np.True_, np.False_
            self._series_open = _nodes(series_length(inner, a, t, np.asarray(yes)) / (np.pi * a**2))
            self._series_closed = _nodes(series_length(inner, a, t, np.asarray(no)) / (np.pi * a**2))
        self._mutual = np.moveaxis(mutual_inertance(g, self.node_x), 0, -1)[..., None, None]  # (N, N, n, 1, 1)
        distance = np.abs(self.node_x[:, :, None] - self.node_x[:, None, :])
        self._distance = np.moveaxis(distance, 0, -1)[..., None, None]

    # at a frequency

    def admittances(self, w: Complex, is_open: Bool, losses: bool | None = None) -> Complex:
        """Return the admittance of every opening by itself [m3/(Pa s)].

        Parameters
        ----------
        w : (n, f, m) angular frequency [rad/s], real or complex
        is_open : (f, N) which nodes are open; window and foot always are
        losses : those of the network where not given

        Returns
        -------
        (N, n, f, m)
        """
        air = self.air
        c, rho = air.speed_of_sound, air.density
        k = w / c
        radiation = rho * c * k**2 / (4.0 * np.pi)
        mass = 1j * w * rho
        N = is_open.shape[1]
        Y = np.empty((N, *w.shape), dtype=complex)
        Y[0] = 1.0 / (mass * self._window + radiation)
        end, fall, a = self._foot
        Y[-1] = 1.0 / (mass * (end - fall * (k * a) ** 2) / (np.pi * a**2) + radiation)
        if N > 2:
            b = self._hole_r
            S = np.pi * b**2
            duct = line(w, b, air, self.losses if losses is None else losses)
            opened = is_open.T[1:-1, None, :, None]
            wave = duct.gamma * self._hole_height
            wave = wave + np.where(opened, 1j * k * self._hole_outside + k**2 * S / (4.0 * np.pi), 0.0)
            tanh = np.tanh(wave)
            chimney = np.where(opened, tanh, 1.0 / tanh)
            Y[1:-1] = 1.0 / (mass * self._hole_inside / S + duct.zc * chimney)
        return Y

    def characteristic(self, w: Complex, is_open: Bool) -> Complex:
        """Return the determinant (n, f, m) whose zeros in ``w`` (n, f, m) [rad/s] are the resonances.

        Dimensionless and analytic, so a derivative by any size of the flute or by frequency may be had from small
        differences, and df/dsize = -(dF/dsize) / (dF/df) at a zero. ``is_open`` as in ``admittances``.
        """
        air = self.air
        rho, c = air.density, air.speed_of_sound
        w = np.asarray(w, dtype=complex)
        N = is_open.shape[1]
        z0 = rho * c / _spread(self.area)
        mass = 1j * w * rho
        Y = self.admittances(w, is_open) * z0
        m11, m12, m21, m22 = self._march(w, is_open, mass)
        m12 = m12 / z0
        m21_foot, m22_foot = m21 * z0, m22
        mutual = mass / z0 * np.exp(-1j * (w / c) * self._distance) * self._mutual
        both = (is_open.T[:, None, :] & is_open.T[None, :, :])[:, :, None, :, None]
        mutual = np.where(both, mutual, 0.0)
        F = np.zeros((N + 1, N + 1, *w.shape), dtype=complex)
        F[:N, 0] = Y * m11
        for i in range(N):
            for j in range(i):
                F[i, j + 1] = -Y[i] * (m12[i] * m11[j] - m11[i] * m12[j] + mutual[i, j])
            F[i, i + 1] = -1.0
            for j in range(i + 1, N):
                F[i, j + 1] = -Y[i] * mutual[i, j]
        F[N, 0] = m21_foot
        for j in range(N - 1):
            F[N, j + 1] = -(m22_foot * m11[j] - m21_foot * m12[j])
        F[N, N] = -1.0
        result: Complex = np.linalg.det(np.moveaxis(F, (0, 1), (-2, -1)))
        return result

    def _march(self, w: Complex, is_open: Bool, mass: Complex) -> tuple[Complex, Complex, Complex, Complex]:
        """Return the march from the plug to each node: (p, u) there = [[m11, m12], [m21, m22]] (p, u) at the plug.

        m11 and m12 come for every node (N, n, f, m), m21 and m22 for the foot only.
        """
        N = is_open.shape[1]
        shape = w.shape
        m11, m12 = np.empty((N, *shape), dtype=complex), np.empty((N, *shape), dtype=complex)
        a, b = np.ones(shape, dtype=complex), np.zeros(shape, dtype=complex)
        c, d = np.zeros(shape, dtype=complex), np.ones(shape, dtype=complex)
        pieces = iter(self._pieces)
        piece = next(pieces, None)
        for node in range(N):
            while piece is not None and piece[0] == node:
                T = cone(w, piece[2], piece[3], piece[1], self.air, self.losses)
                a, c = T.D * a - T.B * c, T.A * c - T.C * a
                b, d = T.D * b - T.B * d, T.A * d - T.C * b
                piece = next(pieces, None)
            if 0 < node < N - 1:
                i = node - 1
                half = 0.5 * mass * np.where(is_open[:, node][:, None], self._series_open[i], self._series_closed[i])
                m11[node], m12[node] = a - half * c, b - half * d
                a, b = m11[node] - half * c, m12[node] - half * d
            else:
                m11[node], m12[node] = a, b
        return m11, m12, c, d

    # a quick, real, lossless stand-in whose phase only grows with frequency

    def phase(self, f: Real, is_open: Bool) -> Real:
        """Return the unwrapped phase (n, f, m) of the lossless bore at the foot, at real frequencies ``f`` [Hz].

        In a chain without losses the angle between pressure and flow grows with frequency (Foster's theorem), turns by
        exactly k times length along a duct, and stays within its half turn at a shunt, so that it can be followed
        without ambiguity. It is -pi/2 at 0 Hz and (m - 1) pi at mode ``m``. Series terms, outer interaction
        and the shape of cones are left out: it counts and starts the modes, ``characteristic`` places them.
        """
        air = self.air
        k = 2.0 * np.pi * f / air.speed_of_sound
        rho_c = air.density * air.speed_of_sound
        B = self.admittances(2.0 * np.pi * f + 0j, is_open, losses=False).imag * rho_c
        angle: Real = np.zeros(f.shape)
        pieces = iter(self._pieces)
        piece = next(pieces, None)
        area_before: Real | None = None
        for node in range(is_open.shape[1]):
            while piece is not None and piece[0] == node:
                area = np.pi * piece[2] * piece[3]
                if area_before is not None and not np.array_equal(area, area_before):
                    angle = _turn(angle, area_before / area, 0.0)
                area_before = area
                angle = angle + k * piece[1]
                piece = next(pieces, None)
            here = np.pi * _spread(self.node_r[:, node]) ** 2 if area_before is None else area_before
            angle = _turn(angle, 1.0, B[node] / here)
        return angle


def _turn(angle: Real, scale: Real | float, add: Real | float) -> Real:
    """Return the angle whose tangent is scaled and added to, in the same half turn."""
    return np.pi * np.round(angle / np.pi) + np.arctan(np.tan(angle) * scale + add)


def _spread(values: Real) -> Real:
    """(n,) to (n, 1, 1)."""
    return values[:, None, None]


def _nodes(values: Real) -> Real:
    """(n, h) to (h, n, 1, 1)."""
    return np.moveaxis(values, 1, 0)[:, :, None, None]
