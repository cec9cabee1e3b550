"""Flutes, players and days that err in ways the model has no name for: a second truth for the bench of `tuning_bench`.

Beside the four named corrections: holes laid out by up to 0.3 mm from their places, oval or with a burr, chimneys of
another height, a bore that tapers by up to 0.15 mm, a window off by 0.15 mm either way, up to 5 cents that vary
smoothly from note to note; a thermometer up to 2 K off, days that differ by 1 K, a flute that warms up, a player who
blows high notes up to 10 cents sharper, now and then another player; of readings 5 % outliers and 1 % of another
fingering, of cuts 2 % that slip. What counts in the end is the flute as its usual player hears it, warm, on a day like
any other, by the shop's own thermometer.

`strange` adds two more that no constant of the advice was chosen by: a player who without knowing it bends every note
a fifth of the way towards its target, and holes whose edges come out another way after each cut (2 cents).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from acoustics.belief.corrections import CUT_SD, WIDE
from acoustics.belief.sounding import first_resonances
from acoustics.flute.instrument import Instrument
from acoustics.model.implicit import CENTS
from acoustics.tuning.aims import controls_of, owners, with_controls
from tests.load.tuning_bench import Bench, Task

_A_DEGREE = 2.9
"""Cents by which a flute sounds higher in air that is 1 K warmer: half of 1/297, as the speed of sound."""
SLIPS = 0.02
OUTLIERS = 0.05
ELSEWHERE = 0.01
"""Readings of another fingering."""
A_SITTING = 12
"""Readings in one go, on the average."""


@dataclass
class Sitting:
    """One player on one day: cents that all readings share, more toward the top, and flat while it is cold."""

    name: str
    offset: float
    tilt: float
    cold: float
    left: int
    played: int = 0


@dataclass
class Workshop(Bench):
    """A bench whose flute, player, day and hand err without a name."""

    built: Instrument | None = None
    smooth: np.ndarray = field(default_factory=lambda: np.zeros(1))
    height: np.ndarray = field(default_factory=lambda: np.zeros(1))
    sitting: Sitting | None = None
    told: bool = True
    strange: bool = False
    edges: np.ndarray = field(default_factory=lambda: np.zeros(1))
    sittings: int = 0
    slipped: int = 0

    @staticmethod
    def of(task: Task, seed: int, level: float = 1.0, told: bool = True, strange: bool = False) -> Workshop:
        """A flute drawn by its seed; `level` scales what has no name, `told` whether readings name their sitting."""
        rng = np.random.default_rng(seed)
        plain = Bench.drawn(task, seed)
        pitch = np.log2(task.targets / task.targets.min())
        height = pitch / pitch.max()
        apart = np.abs(pitch[:, None] - pitch[None, :]) * 12.0
        smooth = np.linalg.cholesky(np.exp(-0.5 * (apart / 4.0) ** 2) + 1e-6 * np.eye(len(pitch)))
        thermometer = _A_DEGREE * rng.uniform(-2.0, 2.0)
        corrections = 0.7 * np.array(list(WIDE.values())) * rng.standard_normal(4)
        corrections[3] += level * thermometer
        off = level * (3.0 * smooth @ rng.standard_normal(len(pitch)) + rng.uniform(0.0, 10.0) * height)
        shop = Workshop(task, corrections, plain.paper, rng, errors=plain.errors.copy())
        shop.built = _as_built(plain.paper, rng, level)
        shop.smooth, shop.height, shop.told, shop.strange = off, height, told, strange
        shop.edges = np.zeros(len(pitch))
        shop.level = level
        return shop

    level: float = 1.0

    @property
    def truth(self) -> Instrument:
        assert self.built is not None
        oval = self.built_share
        sizes = controls_of(self.paper) + self.errors
        return with_controls(self.built, sizes * oval)

    @property
    def built_share(self) -> np.ndarray:
        """By what share each control acts larger than it measures."""
        assert self.built is not None
        return controls_of(self.built) / controls_of(self._first)

    def __post_init__(self) -> None:
        self._first = self.paper

    def cents(self, fingerings: Any = None) -> np.ndarray:
        which = [self.task.fingerings.index(f) for f in fingerings or self.task.fingerings]
        wanted = self.task.targets[which]
        names = [self.task.fingerings[i] for i in which]
        w = first_resonances(self.truth, self.task.air, names, self.corrections[:3], wanted)
        found = CENTS * np.log(w.real / (2.0 * np.pi * wanted)) + self.corrections[3]
        return np.asarray(found + self.smooth[which] + self.edges[which])

    def _sit_down(self) -> Sitting:
        rng, level = self.rng, self.level
        self.sittings += 1
        day = _A_DEGREE * rng.standard_normal()
        other = rng.random() < 0.15
        offset = day + (4.0 * rng.standard_normal() if other else 0.0)
        tilt = rng.uniform(-5.0, 5.0) if other else 0.0
        left = int(rng.integers(A_SITTING // 2, 3 * A_SITTING // 2 + 1))
        return Sitting(f"sitting {self.sittings}", level * offset, level * tilt, level * 8.0 * rng.random(), left)

    def read(self, fingering: str) -> float:
        rng = self.rng
        if self.sitting is None or self.sitting.left == 0:
            self.sitting = self._sit_down()
        now = self.sitting
        i = self.task.fingerings.index(fingering)
        true = float(self.cents([fingering])[0])
        if self.strange:
            true *= 0.8
        cents = true + now.offset + now.tilt * self.height[i] - now.cold * np.exp(-now.played / 3.0)
        cents += self.reading_sd * rng.standard_normal()
        chance = rng.random()
        if chance < self.level * OUTLIERS:
            cents += 25.0 * rng.standard_normal()
        elif chance < self.level * (OUTLIERS + ELSEWHERE):
            other = int(np.clip(i + rng.choice([-1, 1]), 0, len(self.task.targets) - 1))
            cents += CENTS * np.log(self.task.targets[other] / self.task.targets[i])
        now.played += 1
        now.left -= 1
        frequency = float(self.task.targets[i] * 2.0 ** (cents / 1200.0))
        reading = {"fingering": fingering, "frequency": frequency, "instrument": self.paper.to_json()}
        self.readings.append(reading | ({"session": now.name} if self.told else {}))
        return frequency

    def cut(self, control: int, to: float) -> None:
        super().cut(control, to)
        if self.rng.random() < self.level * SLIPS:
            further = abs(self.rng.standard_normal()) * 0.45
            self.errors[control] += -2.0 * further if control == 0 else further
            self.slipped += 1
        if self.strange and control:
            note = owners(self.task.fingerings, len(self.paper.holes))[control]
            self.edges[note] = 2.0 * self.rng.standard_normal()


def _as_built(paper: Instrument, rng: np.random.Generator, level: float) -> Instrument:
    """The flute as somebody made it by this paper."""

    def some(limit: float) -> float:
        return float(level * rng.uniform(-limit, limit))

    holes = []
    for hole in paper.holes:
        wall = paper.body.wall if hole.wall is None else hole.wall
        share = 1.0 + level * 0.01 * rng.standard_normal() - level * 0.008 * rng.random()
        holes.append(
            replace(hole, x=hole.x + some(0.3), diameter=hole.diameter * share, wall=max(wall + some(0.4), 1.0))
        )
    taper = some(0.15)
    x0, x1 = paper.bore[0][0], paper.bore[-1][0]
    bore = tuple((x, d + taper * (x - x0) / (x1 - x0)) for x, d in paper.bore)
    window = replace(paper.window, length=paper.window.length + some(0.15), width=paper.window.width + some(0.15))
    return replace(paper, bore=bore, window=window, holes=tuple(holes))


def by_knowing(shop: Workshop) -> str:
    """Somebody who knows the truth at every moment: each size once, from the foot up, twice over where needed."""
    owner = owners(shop.task.fingerings, len(shop.paper.holes))
    order = [0, *range(len(shop.paper.holes), 0, -1)]
    plan = controls_of(shop.paper) + 0.0
    keep = (shop.paper, shop.errors.copy())
    for _ in range(6):  # where all sizes must end, by the truth
        for control in order:
            note = [owner[control]]
            step = -1.0 if control == 0 else 0.2
            shop.paper, shop.errors = with_controls(keep[0], plan), np.zeros_like(plan)
            now = shop.cents([shop.task.fingerings[i] for i in note])[0]
            plan[control] += step
            shop.paper = with_controls(keep[0], plan)
            then = shop.cents([shop.task.fingerings[i] for i in note])[0]
            plan[control] += -step + step * np.clip((-1.0 - now) / (then - now), -6.0, 6.0)
    shop.paper, shop.errors = keep
    for control in order:
        now = controls_of(shop.paper)[control]
        if plan[control] < now - 0.05 if control == 0 else plan[control] > now + 0.05:
            shop.cut(control, round(float(plan[control]), 2))
    return "done"


def by_patience(shop: Workshop, heard: int = 3) -> str:
    """Four rounds from the foot up: each note heard, its own readings believed (their median), cut by the slope."""
    owner = owners(shop.task.fingerings, len(shop.paper.holes))
    for part in (0.6, 0.85, 1.0, 1.0):
        for control in [0, *range(len(shop.paper.holes), 0, -1)]:
            fingering = shop.task.fingerings[owner[control]]
            target = shop.task.targets[owner[control]]
            shown = float(np.median([CENTS * np.log(shop.read(fingering) / target) for _ in range(heard)]))
            size = controls_of(shop.paper)
            if shown > -4.0:
                continue
            moved = size.copy()
            step = -1.0 if control == 0 else 0.2
            moved[control] += step
            two = [
                first_resonances(with_controls(shop.paper, s), shop.task.air, [fingering], np.zeros(3), target[None])
                for s in (size, moved)
            ]
            slope = float(CENTS * np.log(two[1].real / two[0].real)[0]) / step
            cut = part * (-2.5 - shown) / slope
            if abs(cut) >= CUT_SD:
                shop.cut(control, round(float(size[control] + cut), 1 if control == 0 else 2))
    return "done"
