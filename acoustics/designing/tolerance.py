"""How accurately a flute must be made: the effect of each size on each note, and of a shop's spread on the tuning."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from acoustics import fields as read
from acoustics.flute.dimensions import Dimension, dimensions_of, off_by
from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.implicit import CENTS, Array, Bool, Complex, corrected, rates, slope
from acoustics.model.network import Network
from acoustics.model.resonance import open_nodes, resonances

TENTH: Final = 0.1
"""Sensitivities are given for a tenth of a mm."""
CHUNK: Final = 250
"""Flutes calculated together: bounds the memory and is the step of the progress."""

Progress = Callable[[int, int], None]
"""Called with how many flutes are done, of how many."""


@dataclass(frozen=True, slots=True)
class Tolerances:
    """Standard deviations of what is made, in mm (degrees for the edge), and of the air in degrees C.

    The defaults are what careful hand work with gauges reaches; common practice, no published source. A shop's own
    come from its gauges.
    """

    foot: float = 0.3
    bore: float = 0.05
    wall: float = 0.2
    stub: float = 0.3
    window_length: float = 0.1
    window_width: float = 0.1
    window_wall: float = 0.15
    edge_angle: float = 3.0
    edge_height: float = 0.15
    block_setback: float = 0.25
    hole_position: float = 0.2
    hole_diameter: float = 0.1
    temperature: float = 1.5

    @staticmethod
    def from_json(document: object, field: str = "tolerances") -> Tolerances:
        """Read tolerances; what is absent keeps its default. Raises InvalidInput."""
        names = [f.name for f in fields(Tolerances)]
        given: Mapping[str, Any] = read.mapping(document, field, names)
        unit = {"edge_angle": "degrees", "temperature": "degrees C"}
        return Tolerances(
            **{
                name: read.number(value, f"{field}.{name}", 0.0, 10.0, unit.get(name, "mm"))
                for name, value in given.items()
            }
        )

    def to_json(self) -> dict[str, float]:
        """The tolerances as JSON."""
        return {f.name: getattr(self, f.name) for f in fields(self)}

    def of(self, dimension: Dimension) -> float:
        """Standard deviation of one dimension."""
        return float(getattr(self, dimension.kind.replace(" ", "_")))


@dataclass(frozen=True, slots=True)
class Sensitivities:
    """`cents[d][f]`: what a tenth of a mm (a degree for the edge) more of a dimension does to a fingering.

    `temperature[f]` is cents for one degree C.
    """

    dimensions: tuple[Dimension, ...]
    fingerings: tuple[str, ...]
    cents: tuple[tuple[float, ...], ...]
    temperature: tuple[float, ...]

    def to_json(self) -> dict[str, Any]:
        """The table as JSON, one row for each dimension and one for the air."""
        rows = [
            {"dimension": d.name, "per": "1 degree" if d.unit == "degrees" else "0.1 mm", "cents": list(row)}
            for d, row in zip(self.dimensions, self.cents, strict=True)
        ]
        rows.append({"dimension": "air", "per": "1 degree C", "cents": list(self.temperature)})
        return {"fingerings": list(self.fingerings), "rows": rows}


@dataclass(frozen=True, slots=True)
class NoteSpread:
    """How one note came out over many flutes, in cents above its target.

    `low` and `high` are the 5 and 95 percentiles, `within` the share of flutes (0 to 1) within the tolerance.
    """

    fingering: str
    mean: float
    sd: float
    low: float
    high: float
    within: float


@dataclass(frozen=True, slots=True)
class Spread:
    """Many flutes made with a shop's tolerances.

    `notes` one by one; `all_within` is the share of flutes with every note within `tolerance` cents; `care` the
    share of the variance of all notes that each kind of dimension brings, largest first.
    """

    flutes: int
    tolerance: float
    notes: tuple[NoteSpread, ...]
    all_within: float
    care: tuple[tuple[str, float], ...]

    def to_json(self) -> dict[str, Any]:
        """The spread as JSON."""
        return {
            "flutes": self.flutes,
            "tolerance": self.tolerance,
            "notes": [asdict(n) for n in self.notes],
            "all_within": self.all_within,
            "care": [{"dimension": name, "share": share} for name, share in self.care],
        }


class _Linear:
    """One flute with its first resonances and their rates by every dimension."""

    def __init__(self, instrument: Instrument, air: Air, fingerings: Sequence[str]) -> None:
        self.instrument, self.air = instrument, air
        self.dimensions = dimensions_of(instrument)
        geometry = Geometry.of([instrument])
        self.is_open: Bool = open_nodes(fingerings, geometry)
        found = resonances(geometry, air, fingerings, modes=1)
        w = 2.0 * np.pi * found.frequency * (1.0 + 0.5j / found.q)
        here = Network(geometry, air)
        self.slopes = slope(here, w, self.is_open)[0]
        self.w: Complex = corrected(here, w, self.slopes, self.is_open)[0]
        step = np.array([1e-2 if d.unit == "degrees" else 1e-3 for d in self.dimensions])
        moved = off_by(instrument, self.dimensions, np.concatenate([np.diag(step), -np.diag(step)]))
        per_unit = rates(Network(moved, air), step, self.slopes, self.w, self.is_open)
        self.rates: Array = per_unit[:, 0]

    def temperature_rate(self) -> float:
        """Cents for one degree C: half the relative change of temperature, as in an ideal gas."""
        return float(0.5 * CENTS / (_NOMINAL + 273.15))


_NOMINAL: Final = 24.0
"""Degrees C near which flutes are played; a few degrees change the rate by one percent."""


def sensitivities(instrument: Instrument, air: Air, fingerings: Sequence[str]) -> Sensitivities:
    """What each dimension does to the first resonance of each fingering, in cents for 0.1 mm.

    Exact derivatives by the implicit function theorem (see `acoustics.model.implicit`). Raises InvalidInput for a
    fingering that does not fit.
    """
    linear = _Linear(instrument, air, fingerings)
    scale = [1.0 if d.unit == "degrees" else TENTH for d in linear.dimensions]
    cents = tuple(
        tuple(float(c) * factor for c in column) for column, factor in zip(linear.rates.T, scale, strict=True)
    )
    return Sensitivities(linear.dimensions, tuple(fingerings), cents, (linear.temperature_rate(),) * len(fingerings))


def monte_carlo(
    instrument: Instrument,
    air: Air,
    targets: Mapping[str, float],
    tolerances: Tolerances | None = None,
    flutes: int = 10_000,
    tolerance: float = 5.0,
    seed: int = 1,
    progress: Progress | None = None,
    unknown: tuple[Array, Array] | None = None,
) -> Spread:
    """`flutes` flutes made with a shop's tolerances, each solved with losses, against `targets` (Hz by fingering).

    Deviations are normal and independent, cut off at three standard deviations as a gauge would. The first
    resonance of each is placed by a step of Newton's method from the linear prediction, good to 0.05 cents. The
    same seed gives the same flutes. `progress` is called after each chunk. `unknown` are mean (f,) and covariance
    (f, f) in cents of what the model itself leaves open, which comes on top; what `air` does is in it already where its
    variance is given, so that warmth is then left out.
    """
    shop = tolerances or Tolerances()
    count = int(read.number(flutes, "flutes", 10, 1_000_000))
    fingerings = tuple(targets)
    linear = _Linear(instrument, air, fingerings)
    spreads = np.array([shop.of(d) for d in linear.dimensions])
    rng = np.random.default_rng(seed)
    warm = shop.temperature * linear.temperature_rate()
    off_model = np.zeros((count, len(fingerings)))
    if unknown is not None:
        # Draws of their own, so that the hand's stay those that they are without.
        draws = np.random.default_rng(seed + 1).standard_normal((count, len(fingerings)))
        mean, covariance = unknown
        off_model = mean + draws @ np.linalg.cholesky(covariance + 1e-9 * np.eye(len(mean))).T
    off_target = np.empty((count, len(fingerings)))
    wanted = 2.0 * np.pi * np.array([targets[f] for f in fingerings])
    for start in range(0, count, CHUNK):
        size = min(CHUNK, count - start)
        normal = np.clip(rng.standard_normal((size, len(spreads) + 1)), -3.0, 3.0)
        off = normal[:, :-1] * spreads
        w = first_resonances(linear, off)
        cents = CENTS * np.log(w.real / wanted)
        made = slice(start, start + size)
        off_target[made] = cents + off_model[made] + (normal[:, -1:] * warm if unknown is None else 0.0)
        if progress is not None:
            progress(start + size, count)
    variance = (linear.rates * spreads) ** 2
    shares: dict[str, float] = {}
    for dimension, column in zip(linear.dimensions, variance.T, strict=True):
        shares[dimension.kind] = shares.get(dimension.kind, 0.0) + float(np.sum(column))
    shares["air"] = warm**2 * len(fingerings)
    total = sum(shares.values()) or 1.0
    within = np.abs(off_target) <= tolerance
    low, high = np.percentile(off_target, [5.0, 95.0], axis=0)
    notes = tuple(
        NoteSpread(
            fingering,
            float(np.mean(off_target[:, i])),
            float(np.std(off_target[:, i])),
            float(low[i]),
            float(high[i]),
            float(np.mean(within[:, i])),
        )
        for i, fingering in enumerate(fingerings)
    )
    care = sorted(((kind, share / total) for kind, share in shares.items()), key=lambda s: (-s[1], s[0]))
    return Spread(count, tolerance, notes, float(np.mean(np.all(within, axis=1))), tuple(care))


def first_resonances(linear: _Linear, off: NDArray[np.float64]) -> Complex:
    """First resonances (g, f) in rad/s of flutes off by `off` (g, d) in the unit of each dimension."""
    network = Network(off_by(linear.instrument, linear.dimensions, off), linear.air)
    guess = linear.w[None] * np.exp((off @ linear.rates.T)[..., None] / CENTS)
    return corrected(network, guess, linear.slopes[None], linear.is_open)[..., 0]
