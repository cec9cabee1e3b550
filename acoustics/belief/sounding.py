"""Where a flute sounds once its corrections are known, and how that moves with them and with every cut.

The response of one flute: the first resonance of each fingering and its rates by (window, bore, holes) and by the
controls (foot, d1 .. dn), the sizes that tuning can change. By the implicit function theorem all of it comes from one
batch of the characteristic function.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from acoustics.belief.corrections import SHAPE, SHAPES
from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.ducts import Complex as AnyComplex, Real
from acoustics.model.implicit import CENTS, W_STEP, Array, Bool, Complex
from acoustics.model.network import Network
from acoustics.model.resonance import open_nodes, resonances

__all__ = ["SHAPE", "Response", "first_resonances", "follow", "network", "respond", "respond_in_pairs", "surely"]

_STEPS: Final = tuple(one.step for one in SHAPES)
_CONTROL_STEP: Final = 1e-4
_WIDEST: Final = 0.98
"""A corrected hole stays this much narrower than the bore."""
_DONE: Final = 2e-6
"""Share of itself by which a last Newton step may move a resonance: what is left is the square of that."""
_ROUND: Final = 0.07
"""Share of itself within which a resonance has its lossless one."""
_ASTRAY: Final = 0.03
"""Share of itself by which a Newton step may move a resonance and still be believed to lead to the same one."""
_AWAY: Final = 0.06
"""Share of itself by which a resonance may lie from where a reading says that it is, and still be the one it is of."""
_LOST: Final = 0.2
"""Share of itself by which corrections, however far they are believed, may move a resonance."""
_Q: Final = 40.0
"""Quality factor to start from."""


class CorrectedNetwork(Network):
    """A network whose window has `extra` (n,) metres more of bore than the model gives it."""

    def __init__(self, geometry: Geometry, air: Air, extra: Array) -> None:
        super().__init__(geometry, air)
        self._extra = (extra / self.area)[:, None, None]

    def admittances(self, w: AnyComplex | Real, is_open: Bool, losses: bool | None = None) -> AnyComplex:
        """As in `Network`, with the inertance of the extra length in series with the window."""
        Y = super().admittances(w, is_open, losses)
        Y[0] = Y[0] / (1.0 + 1j * w * self.air.density * self._extra * Y[0])
        return Y


@dataclass(frozen=True)
class Response:
    """First resonances of n flutes.

    `w` (n, f) in rad/s; `rates` (n, f, 3 + c): cents per unit of window, bore and holes, then per mm of the foot and
    of each diameter.
    """

    w: Complex
    rates: Array

    @property
    def frequency(self) -> Array:
        """In Hz (n, f)."""
        return np.asarray(self.w.real / (2.0 * np.pi))


def network(flutes: Sequence[Instrument], air: Air, shape: Array, moves: Array | None = None) -> CorrectedNetwork:
    """The corrected flutes, each with every row of `moves` (r, 3 + c) made in turn: n r rows.

    `shape` (3,) is (window, bore, holes); moves are added to it and, in mm, to the controls.
    """
    plain = Geometry.of(level(flutes))
    fingers = plain.fingers
    rows = np.zeros((1, SHAPE + 1 + fingers)) if moves is None else moves
    g = plain.repeat(len(rows))
    moved = np.tile(rows, (len(plain), 1))
    window, bore, holes = (shape + moved[:, :SHAPE]).T
    bore_x = g.bore_x.copy()
    bore_x[:, -1] += 1e-3 * moved[:, SHAPE]
    bore_r = g.bore_r.copy()
    bore_r[:, -1] = g.radius_at(bore_x[:, -1:])[:, 0]
    bore_r *= 1.0 + bore[:, None]
    hole_r = g.hole_r.copy()
    hole_r[:, :fingers] += 0.5e-3 * moved[:, SHAPE + 1 :]
    hole_r *= 1.0 + holes[:, None]
    g = replace(g, bore_x=bore_x, bore_r=bore_r)
    if hole_r.shape[1]:
        hole_r = np.minimum(hole_r, _WIDEST * g.radius_at(g.hole_x) - g.undercut)
    g = replace(g, hole_r=hole_r)
    at_window = g.radius_at(-0.5 * g.window_length[:, None])[:, 0]
    return CorrectedNetwork(g, air, window * at_window)


def level(flutes: Sequence[Instrument]) -> list[Instrument]:
    """The same flutes with equally many points on the bore: points in between are added where some are missing."""
    most = max(len(flute.bore) for flute in flutes)
    found = []
    for flute in flutes:
        bore = list(flute.bore)
        while len(bore) < most:
            (x1, d1), (x2, d2) = bore[-2], bore[-1]
            bore.insert(-1, (0.5 * (x1 + x2), 0.5 * (d1 + d2)))
        found.append(flute if len(bore) == len(flute.bore) else replace(flute, bore=tuple(bore)))
    return found


def respond(
    flutes: Sequence[Instrument],
    air: Air,
    fingerings: Sequence[str],
    shape: Array,
    start: Complex,
    controls: bool = True,
    sure: bool = True,
) -> Response:
    """Resonances near `start` (n, f), improved by a Newton step, and their rates: by the controls too if asked for.

    A start that is 10 cents off leaves an error of 0.3 cents, and so on by the square. Where a step goes far, the
    resonances of that flute are searched for again, unless `sure` is False.
    """
    net, steps = _moved(flutes, air, shape, controls)
    w, rates = _step(net, steps, start, open_nodes(fingerings, net.geometry))
    far = ~np.all(np.abs(w - start) < _ASTRAY * np.abs(start), axis=1)
    if sure and far.any():
        again = start.copy()
        for i in np.flatnonzero(far):
            again[i] = first_resonances(flutes[int(i)], air, fingerings, shape, start[i].real / (2.0 * np.pi))
        return respond(flutes, air, fingerings, shape, again, controls, sure=False)
    return Response(w, rates)


def respond_in_pairs(
    flutes: Sequence[Instrument], air: Air, fingerings: Sequence[str], shape: Array, start: Complex
) -> Response:
    """The same for pairs of a flute and its fingering, settled: `start` and `w` are (n, 1), `rates` (n, 1, 3 + c)."""
    plain = network(flutes, air, shape)
    is_open = open_nodes(fingerings, plain.geometry)[:, None]
    w, settled = _followed(plain, is_open, start)
    far = ~(settled & (np.abs(w - start) < _AWAY * np.abs(start)))[:, 0]
    for i in np.flatnonzero(far):
        near = start[i].real / (2.0 * np.pi)
        w[i] = first_resonances(flutes[int(i)], air, [fingerings[int(i)]], shape, near)
    net, steps = _moved(flutes, air, shape, controls=True)
    return Response(*_step(net, steps, w, np.repeat(is_open, 2 + len(steps), axis=0)))


def _moved(flutes: Sequence[Instrument], air: Air, shape: Array, controls: bool) -> tuple[CorrectedNetwork, Array]:
    """Each flute twice as it is, then with every step made in turn; and the steps."""
    sizes = 1 + len(flutes[0].holes)
    steps = np.array([*_STEPS, *[_CONTROL_STEP] * sizes])
    moves = np.concatenate([np.zeros((2, len(steps))), np.diag(steps)])
    if not controls:
        steps, moves = steps[:SHAPE], moves[: 2 + SHAPE]
    return network(flutes, air, shape, moves), steps


def _step(net: Network, steps: Array, start: Complex, is_open: Bool) -> tuple[Complex, Array]:
    """One Newton step from `start` (n, f), and the rates (n, f, steps) there."""
    n, r = len(start), 2 + len(steps)
    at = np.repeat(start, r, axis=0)
    at[1::r] *= 1.0 + W_STEP
    F = net.characteristic(at[..., None], is_open)[..., 0].reshape(n, r, -1)
    slope = (F[:, 1] - F[:, 0]) / (W_STEP * start)
    moved = -(F[:, 2:] - F[:, :1]) / (steps[None, :, None] * slope[:, None])
    rates = CENTS * np.moveaxis(moved.real, 1, 2) / start.real[..., None]
    return np.asarray(start - F[:, 0] / slope), np.asarray(rates)


def follow(
    flutes: Sequence[Instrument], air: Air, fingerings: Sequence[str], shape: Array, start: Complex, times: int = 8
) -> Complex:
    """Resonances (n, f) near `start` by Newton's method; at most `times` steps."""
    net = network(flutes, air, shape)
    return _followed(net, open_nodes(fingerings, net.geometry), start, times)[0]


def surely(flutes: Sequence[Instrument], air: Air, fingerings: Sequence[str], shape: Array, start: Complex) -> Complex:
    """`follow`; where Newton's method does not settle on a resonance near `start`, it is searched for."""
    net = network(flutes, air, shape)
    w, settled = _followed(net, open_nodes(fingerings, net.geometry), start)
    with np.errstate(invalid="ignore"):
        good = settled & (np.abs(w - start) < _LOST * np.abs(start))
    for i in np.flatnonzero(~good.all(axis=1)):
        w[i] = first_resonances(flutes[int(i)], air, fingerings, shape, start[i].real / (2.0 * np.pi))
    return w


def _followed(net: Network, is_open: Bool, start: Complex, times: int = 8) -> tuple[Complex, Bool]:
    """Where Newton's method leads from `start`, and where it has settled."""
    w, settled = start, np.zeros(start.shape, dtype=bool)
    for _ in range(times):
        F = net.characteristic(np.stack([w, w * (1.0 + W_STEP)], axis=-1), is_open)
        step = F[..., 0] * (W_STEP * w) / (F[..., 1] - F[..., 0])
        w = w - step
        settled = np.abs(step) <= np.sqrt(_DONE) * np.abs(w)
        if settled.all():
            break
    return np.asarray(w), np.asarray(settled)


def first_resonances(flute: Instrument, air: Air, fingerings: Sequence[str], shape: Array, near: Array) -> Complex:
    """First resonances (f,) of one corrected flute, looked for near `near` (f,) Hz and made sure of.

    It is the first where the phase of the lossless bore goes through zero close by (see `Network.phase`): losses and
    what else that leaves out move a resonance by less. Where Newton's method went to another, the search of
    `acoustics.model.resonance` finds it.
    """
    start = np.asarray(2.0 * np.pi * near[None] * (1.0 + 0.5j / _Q), np.complex128)
    net = network([flute], air, shape)
    is_open = open_nodes(fingerings, net.geometry)
    w, settled = _followed(net, is_open, start)
    good = settled & np.isfinite(w) & (w.real > 0.0)
    f = np.where(good, w.real / (2.0 * np.pi), near)
    around = net.phase(f[..., None] * np.array([1.0 - _ROUND, 1.0 + _ROUND]), is_open)
    good &= (around[..., 0] < 0.0) & (around[..., 1] > 0.0)
    if not good.all():
        found = resonances(net.geometry, air, fingerings, modes=1)
        again: Complex = np.asarray(2.0 * np.pi * found.frequency * (1.0 + 0.5j / found.q), np.complex128)
        sure, _ = _followed(net, is_open, again[..., 0])
        w = np.where(good, w, sure)
    return np.asarray(w[0])
