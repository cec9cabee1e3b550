"""The flute as a chain of ducts with openings: one complex function whose zeros are the resonances.

The bore is marched from the plug to the foot. Unknowns are the pressure at the plug and the volume flow out of each
opening; each opening gives one equation (pressure inside = own impedance times own flow + what the flow of the other
openings adds), and no flow is left beyond the foot. The determinant of that system,
``Network.characteristic``, is analytic in the complex angular frequency and free of poles below the quarter-wave
resonance of a chimney.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from acoustics.flute.geometry import Geometry
from acoustics.model.air import Air
from acoustics.model.chain import Bool, Chain, nodes_first, spread
from acoustics.model.ducts import Complex, Line, Real, line, two_port
from acoustics.model.head import head_of
from acoustics.model.openings import (
    FOOT_LOSS,
    cone_length,
    cone_volume,
    foot_dispersion,
    foot_length,
    hole_dispersion,
    hole_inside_length,
    hole_loss_length,
    hole_outside_length,
    pad_volume,
    rim_length,
    rim_sag,
    saddle_length,
    series_length,
    top_sag,
    undercut_series,
)
from acoustics.model.outside import coupling
from acoustics.model.window import WINDOW_DISPERSION

__all__ = ["Bool", "Network"]


class Network:
    """``n`` flutes in one air, ready to be evaluated at any frequency and fingering.

    Nodes are the window (its middle), the holes in order, and the foot: ``N = h + 2`` of them. Arrays over nodes have
    the node axis first, then ``(n, f, m)``: flutes, fingerings, modes.
    """

    def __init__(self, geometry: Geometry, air: Air, losses: bool = True) -> None:
        self.geometry = geometry
        self.air = air
        self.losses = losses
        self.chain = Chain(geometry)
        self.area = np.pi * self.chain.node_r[:, 0] ** 2
        self._set_ends()
        self._set_holes()
        parts = coupling(geometry, self.chain.node_x, self.chain.node_r, self._reach())
        self._near, self._rise, self._free = (np.tril(part)[:, None, None] for part in parts)  # (n, 1, 1, N, N)
        self._kept: tuple[Complex, Complex, Complex] | None = None
        self._above = np.tril(np.ones(parts.near.shape[1:]), -1)
        self._area_of_node = nodes_first(np.pi * self.chain.node_r**2)

    # geometry, once

    def _set_ends(self) -> None:
        g = self.geometry
        a = self.chain.node_r[:, 0]
        head = head_of(g, a)
        half = 0.5 * g.window_length
        self._window = spread(head.inertance - half / (np.pi * a**2))
        self._window_loss = spread(head.loss - 2.0 * np.pi * a * half / (np.pi * a**2) ** 2)
        self._window_rise = spread(WINDOW_DISPERSION * a)
        a = self.chain.node_r[:, -1]
        # a square outside stands for a round one of equal area
        outside = (a + g.wall) * np.where(g.flat, 2.0 / np.sqrt(np.pi), 1.0)
        S = np.pi * a**2
        self._foot = spread(foot_length(a, outside) / S)
        self._foot_rise = spread(-foot_dispersion(a, outside) * a**2 / S)
        self._foot_loss = spread(2.0 * FOOT_LOSS * a / (a * S))

    def _set_holes(self) -> None:
        g = self.geometry
        a, b, t = self.chain.node_r[:, 1:-1], g.hole_r, g.hole_wall
        flat = g.flat[:, None]
        inner = b + g.undercut
        middle = np.sqrt(b * inner)
        S = np.pi * middle**2
        slope = g.undercut / t
        outer = b + rim_sag(b, slope, a + t, flat)
        saddle = saddle_length(inner, a)
        self._hole_r = nodes_first(middle)
        self._hole_S = nodes_first(S)
        self._hole_inside = nodes_first(hole_inside_length(inner, a) / (np.pi * inner**2))
        self._hole_height = nodes_first(cone_length(t, slope) * b / outer + saddle * b / inner)
        pad = pad_volume(b, g.finger[:, None], a + t, flat)
        volume = cone_volume(b, inner, t) + np.pi * (inner**2 * saddle - b**2 * top_sag(b, a + t, flat)) - pad
        self._hole_closed_height = nodes_first(np.maximum(volume / S, 0.05 * t))
        end = hole_outside_length(outer, a + t, flat) - rim_length(b, g.rim, flat)
        self._hole_outside = nodes_first(end * S / (np.pi * outer**2))
        self._hole_rise = nodes_first(hole_dispersion(a, t, flat))
        self._hole_loss = nodes_first(hole_loss_length(b, inner, a) - saddle)
        open_, closed = (
            undercut_series(slope) * series_length(inner, a, t, np.asarray(state)) / (np.pi * a**2)
            for state in (True, False)
        )
        self._series = nodes_first(open_), nodes_first(closed)

    def _reach(self) -> Real:
        """Return the acoustic height (n, N) of each opening [m]."""
        g = self.geometry
        reach = np.zeros_like(self.chain.node_x)
        reach[:, 0] = g.window_wall + 0.6 * np.sqrt(g.window_length * g.window_width / np.pi)
        reach[:, 1:-1] = g.hole_wall + 0.7 * g.hole_r
        return reach

    # at a frequency

    def admittances(self, w: Complex | Real, is_open: Bool, losses: bool | None = None) -> Complex:
        """Return the admittance of every opening by itself [m3/(Pa s)].

        Parameters
        ----------
        w : (n, f, m) angular frequency [rad/s], real or complex
        is_open : (f, N), or (n, f, N) where it differs from flute to flute: which nodes are open; window and foot
            always are
        losses : those of the network where not given

        Returns
        -------
        (N, n, f, m)
        """
        air = self.air
        losses = self.losses if losses is None else losses
        c, rho = air.speed_of_sound, air.density
        k = w / c
        k2 = k * k
        mass = 1j * rho * w
        radiation = rho * c / (4.0 * np.pi) * k2
        N = is_open.shape[-1]
        Y = np.empty((N, *w.shape), dtype=complex)
        window = self._window + self._window_rise * k2
        foot = self._foot + self._foot_rise * k2
        if losses:
            # a boundary layer adds (1 - j) delta / 2 of inertance for each unit of squared flow along the wall
            layer = np.sqrt(air.viscosity / (1j * rho * w))
            window = window + layer * self._window_loss
            foot = foot + layer * self._foot_loss
        Y[0] = 1.0 / (mass * window + radiation)
        Y[-1] = 1.0 / (mass * foot + radiation)
        if N > 2 and not losses and np.isrealobj(w):
            opened = _by_node(is_open)[1:-1]
            tan = np.tan(k * np.where(opened, self._hole_height + self._hole_outside, self._hole_closed_height))
            own = k * self._hole_inside * self._hole_S + np.where(opened, tan, -1.0 / tan)
            Y[1:-1] = self._hole_S / (1j * rho * c * own)
        elif N > 2:
            duct = line(np.asarray(w, dtype=complex), self._hole_r, air, losses)
            self._fill_holes(Y[1:-1], duct, np.asarray(k, dtype=complex), _by_node(is_open)[1:-1], losses)
        return Y

    def _fill_holes(self, Y: Complex, duct: Line, k: Complex, opened: Bool, losses: bool) -> None:
        gamma, zc = duct
        k2 = k * k
        mass = 1j * self.air.density * self.air.speed_of_sound * k
        wave = gamma * np.where(opened, self._hole_height, self._hole_closed_height)
        end = 1j * k * self._hole_outside + k2 * (self._hole_S / (4.0 * np.pi))
        wave += np.where(opened, end, 0.0)
        twice = np.exp(2.0 * wave)
        tanh = (twice - 1.0) / (twice + 1.0)
        own = mass * (self._hole_inside + np.where(opened, self._hole_rise, 0.0) * k2)
        if losses:
            excess = gamma * zc - mass / self._hole_S
            own += np.where(opened, self._hole_loss, 0.0) * excess
        Y[...] = 1.0 / (own + zc * np.where(opened, tanh, 1.0 / tanh))

    def characteristic(self, w: Complex, is_open: Bool) -> Complex:
        """Return the determinant (n, f, m) whose zeros in ``w`` (n, f, m) [rad/s] are the resonances.

        Dimensionless and analytic, so a derivative by any size of the flute or by frequency may be had from small
        differences, and df/dsize = -(dF/dsize) / (dF/df) at a zero. ``is_open`` as in ``admittances``.
        """
        air = self.air
        rho, c = air.density, air.speed_of_sound
        w = np.asarray(w, dtype=complex)
        N = is_open.shape[-1]
        z0 = rho * c / spread(self.area)
        mass = 1j * rho * w
        Y = np.ascontiguousarray((self.admittances(w, is_open) * z0).transpose(1, 2, 3, 0))
        m11, m12, u = self._march(w, is_open, mass)
        m12 /= z0[..., None]
        m21, m22 = u[..., 0] * z0, u[..., 1]
        F, inside, spare = self._scratch(w.shape, N)
        np.multiply(m12[..., :, None], m11[..., None, :], out=inside)
        np.multiply(m11[..., :, None], m12[..., None, :], out=spare)
        inside -= spare
        inside *= self._above
        self._add_outside(inside, spare, w, is_open, mass / z0)
        np.multiply(inside, -Y[..., :, None], out=F[..., :N, 1:])
        F.reshape(*w.shape, -1)[..., 1 : N * (N + 2) : N + 2] -= 1.0  # one beside the diagonal
        F[..., :N, 0] = Y * m11
        F[..., N, 0] = m21
        F[..., N, 1:] = m21[..., None] * m12 - m22[..., None] * m11
        F[..., N, N] = -1.0
        result: Complex = np.linalg.det(F)
        return result

    def _scratch(self, shape: tuple[int, ...], N: int) -> tuple[Complex, Complex, Complex]:
        """Return arrays to work in, kept between frequencies: fresh memory costs more than the arithmetic."""
        if self._kept is None or self._kept[0].shape[:-2] != shape:
            sizes = (N + 1, N, N)
            F, inside, spare = (np.empty((*shape, size, size), dtype=complex) for size in sizes)
            self._kept = F, inside, spare
        return self._kept

    def _add_outside(self, inside: Complex, spare: Complex, w: Complex, is_open: Bool, mass: Complex) -> None:
        """Add the mutual impedances (n, f, m, N, N) over the bore's, symmetric."""
        turn = np.exp((-1j / self.air.speed_of_sound) * w[..., None] * self.chain.node_x[:, None, None, :])
        both = is_open[..., None, :] & is_open[..., :, None]
        k2 = (w / self.air.speed_of_sound) ** 2
        np.multiply(turn[..., :, None], (mass[..., None] / turn)[..., None, :], out=spare)
        spare *= self._free
        spare += self._near * mass[..., None, None]
        spare += self._rise * (k2 * mass)[..., None, None]
        spare *= both[..., None, :, :]
        inside += spare
        inside += spare.swapaxes(-1, -2)

    def _march(self, w: Complex, is_open: Bool, mass: Complex) -> tuple[Complex, Complex, Complex]:
        """Return the march from the plug: pressure and flow at a node for (p, u) = (1, 0) and (0, 1) at the plug.

        Pressures come for every node, (n, f, m, N) each, flow for the foot only, (n, f, m, 2).
        """
        N = is_open.shape[-1]
        chain = self.chain
        if chain.straight:
            duct = line(w, chain.piece_r1[0], self.air, self.losses)
            A, B, C, D = two_port(duct.gamma, duct.zc, chain.piece_length)
        else:
            duct = line(w, 0.5 * (chain.piece_r1 + chain.piece_r2), self.air, self.losses)
            A, B, C, D = two_port(duct.gamma, duct.zc, chain.piece_length, chain.piece_r1, chain.piece_r2)
        # half a hole's series term lies before its middle and half behind: put both into the pieces that meet there
        after = np.zeros_like(B)
        if N > 2:
            after[chain.hole_pieces] = 0.5 * mass * np.where(_by_node(is_open)[1:-1], *self._series)
        before = np.concatenate([np.zeros_like(after[:1]), after[:-1]])
        step = np.empty((*B.shape, 2, 2), dtype=complex)
        last = A + C * before
        step[..., 0, 0] = D + after * C
        step[..., 0, 1] = -B - D * before - after * last
        step[..., 1, 0] = -C
        step[..., 1, 1] = last
        m11, m12 = np.empty((2, *w.shape, N), dtype=complex)
        state = step[0]
        for i, node in enumerate(chain.piece_node):
            if i:
                state = np.matmul(step[i], state)
            if chain.last_piece[node] == i:
                m11[..., node] = state[..., 0, 0]
                m12[..., node] = state[..., 0, 1]
        return m11, m12, state[..., 1, :]

    # a quick, real, lossless stand-in whose phase only grows with frequency

    def phase(self, f: Real, is_open: Bool) -> Real:
        """Return the unwrapped phase (n, f, m) of the lossless bore at the foot, at real frequencies ``f`` [Hz].

        In a chain without losses the angle between pressure and flow grows with frequency (Foster's theorem), turns by
        exactly k times length along a duct, and stays within its half turn at a shunt, so that it can be followed
        without ambiguity. It is -pi at 0 Hz and (m - 1) pi at mode ``m``. Series terms, outer interaction
        and the shape of cones are left out: it counts and starts the modes, ``characteristic`` places them.
        """
        air = self.air
        k = 2.0 * np.pi * f / air.speed_of_sound
        B = self.admittances(2.0 * np.pi * f, is_open, losses=False).imag
        B *= air.density * air.speed_of_sound / self._area_of_node
        chain = self.chain
        angle: Real = np.zeros(f.shape)
        before: Real | None = None
        for i, node in enumerate(chain.piece_node):
            area = chain.piece_r1[i] * chain.piece_r2[i]
            if before is not None and not chain.straight:
                angle = _turn(angle, before / area, 0.0)
            before = area
            angle = angle + k * chain.piece_length[i]
            if chain.last_piece[node] == i and node < len(B) - 1:
                angle = _turn(angle, 1.0, B[node])
        # how far the angle is beyond what the foot asks for: smooth, where the angle behind the foot is a staircase
        angle = angle + np.arctan(B[-1])
        return np.asarray(angle)


def _by_node(is_open: Bool) -> Bool:
    """(f, N) or (n, f, N) to (N, 1 or n, f, 1)."""
    return is_open.T[:, None, :, None] if is_open.ndim == 2 else is_open.transpose(2, 0, 1)[..., None]


def _turn(angle: Real, scale: Real | float, add: NDArray[np.floating] | float) -> Real:
    """Return the angle whose tangent is scaled and added to, in the same half turn."""
    tangent = np.tan(angle)
    return np.asarray(angle + (np.arctan(tangent * scale + add) - np.arctan(tangent)))
