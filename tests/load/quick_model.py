"""A polynomial in place of the network, for simulations of thousands of pieces of advice: cubic in the corrections, the
foot, and the inverse of every diameter, fitted to the engine's exact network over all that tuning passes through."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations_with_replacement
from typing import Any

import numpy as np

from acoustics.belief import heard, sounding
from acoustics.belief.corrections import SHAPE
from acoustics.flute.instrument import Instrument
from acoustics.model.implicit import CENTS
from acoustics.model.resonance import open_nodes
from acoustics.tuning import advise, cutting, elsewhere, finished
from acoustics.tuning.aims import controls_of
from tests.load.tuning_bench import Task

SHAPE_REACH = (0.9, 0.025, 0.09)
SAMPLES = 1500


class Quick:
    """The fit of one task."""

    def __init__(self, task: Task, seed: int = 1) -> None:
        self.task = task
        rng = np.random.default_rng(seed)
        first = controls_of(task.flute)
        n = SHAPE + len(first)
        self.middle = np.concatenate([np.zeros(SHAPE), [1.01 * first[0]], 1.15 / first[1:]])
        self.reach = np.concatenate([SHAPE_REACH, [0.055 * first[0]], 0.3 / first[1:]])
        z = rng.uniform(-1.0, 1.0, (SAMPLES, n))
        x = self.middle + self.reach * z
        moves = x.copy()
        moves[:, SHAPE] -= first[0]
        moves[:, SHAPE + 1 :] = 1.0 / x[:, SHAPE + 1 :] - first[1:]
        net = sounding.network([task.flute], task.air, np.zeros(SHAPE), moves)
        is_open = open_nodes(task.fingerings, net.geometry)
        start = np.tile(2.0 * np.pi * task.targets * (1.0 + 0.0125j), (SAMPLES, 1))
        w, _ = sounding._followed(net, is_open, start, 12)
        cents = CENTS * np.log(w.real / (2.0 * np.pi * task.targets))
        self.powers = [p for d in range(4) for p in combinations_with_replacement(range(n), d)]
        A = self._features(z)
        good = np.all(np.abs(cents) < 900.0, axis=1)
        keep = np.flatnonzero(good)
        fit, test = keep[: -len(keep) // 8], keep[-len(keep) // 8 :]
        c, *_ = np.linalg.lstsq(A[fit], cents[fit], rcond=None)
        self.error = float(np.sqrt(np.mean((A[test] @ c - cents[test]) ** 2)))
        f = len(task.fingerings)
        self.c0, self.g = np.zeros(f), np.zeros((f, n))
        self.H, self.T = np.zeros((f, n, n)), np.zeros((f, n, n, n))
        for power, value in zip(self.powers, c, strict=True):
            if not power:
                self.c0 = value
            elif len(power) == 1:
                self.g[:, power[0]] = value
            elif len(power) == 2:
                i, j = power
                self.H[:, i, j] += 0.5 * value
                self.H[:, j, i] += 0.5 * value
            else:
                from itertools import permutations

                for i, j, k in permutations(power):
                    self.T[:, i, j, k] += value / 6.0

    def _features(self, z: np.ndarray) -> np.ndarray:
        return np.stack([np.prod(z[:, list(p)], axis=1) if p else np.ones(len(z)) for p in self.powers], axis=1)

    def at(self, controls: np.ndarray, shape: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Cents above the targets (f,) and rates (f, 3 + c)."""
        x = np.concatenate([shape, controls[:1], 1.0 / controls[1:]])
        z = (x - self.middle) / self.reach
        Tz = self.T @ z
        Tzz, Hz = Tz @ z, self.H @ z
        value = self.c0 + self.g @ z + Hz @ z + Tzz @ z
        rates = (self.g + 2.0 * Hz + 3.0 * Tzz) / self.reach
        rates[:, SHAPE + 1 :] *= -1.0 / controls[1:] ** 2
        return value, rates

    def w(self, cents: np.ndarray, which: Sequence[int]) -> np.ndarray:
        found = 2.0 * np.pi * self.task.targets[list(which)] * np.exp(cents[list(which)] / CENTS)
        return np.asarray(found * (1.0 + 0.0125j))


_now: list[Quick] = []


def use(quick: Quick) -> None:
    """Let the advice calculate with a fit from here on."""
    _now[:] = [quick]
    heard._worked_out.clear()
    advise.sounds.cache_clear()

    def respond(
        flutes: Sequence[Instrument], air: Any, fingerings: Sequence[str], shape: Any, *_: Any, **__: Any
    ) -> Any:
        q = _now[0]
        which = [q.task.fingerings.index(f) for f in fingerings]
        found = [q.at(controls_of(flute), shape) for flute in flutes]
        return sounding.Response(
            np.array([q.w(c, which) for c, _ in found]), np.array([rates[which] for _, rates in found])
        )

    def in_pairs(flutes: Sequence[Instrument], air: Any, fingerings: Sequence[str], shape: Any, *_: Any) -> Any:
        found = [respond([flute], air, [f], shape) for flute, f in zip(flutes, fingerings, strict=True)]
        return sounding.Response(np.concatenate([r.w for r in found]), np.concatenate([r.rates for r in found]))

    def first(flute: Instrument, air: Any, fingerings: Sequence[str], shape: Any, near: Any) -> Any:
        return respond([flute], air, fingerings, shape).w[0]

    def follow(flutes: Sequence[Instrument], air: Any, fingerings: Sequence[str], shape: Any, *_: Any) -> Any:
        return respond(flutes, air, fingerings, shape).w

    for module in (advise, cutting, elsewhere, finished, heard):
        for name, new in (
            ("respond", respond),
            ("respond_in_pairs", in_pairs),
            ("first_resonances", first),
            ("follow", follow),
            ("surely", follow),
        ):
            if hasattr(module, name):
                setattr(module, name, new)
