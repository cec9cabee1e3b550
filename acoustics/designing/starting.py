"""Start sizes: how small to drill and how long to leave a flute so that tuning can still reach every note.

Holes only get larger and the foot only gets shorter. A flute comes out a little sharp or flat of its model, by the
shop's spread; then other final sizes bring it in tune. The start sizes lie so far on the safe side of the designed
ones that fewer than one flute in a hundred needs a final size that is already past.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any, Final

import numpy as np
from scipy.special import ndtr, ndtri

from acoustics import fields
from acoustics.designing.fitting import TUNING_WEIGHT, Goal, fit
from acoustics.designing.layout import Array, PitchModel, layout_of, with_layout
from acoustics.designing.shop_spread import ShopSpread
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.implicit import CENTS

CHANCE: Final = 0.01
LEAST_SHARE: Final = 0.4
"""A hole is started at no less than this share of its final diameter, whatever the spread."""


@dataclass(frozen=True, slots=True)
class StartHole:
    """A finger hole in mm: where it is, how wide it is at first and as designed, and how wide it is likely to end."""

    x: float
    first: float
    last: float
    likely: float


@dataclass(frozen=True, slots=True)
class StartNote:
    """The prediction for a note, in cents above its target, before any hole is enlarged.

    `now` with the outside as it is, `turned` once the outside is finished; `later` is how far it will still flatten
    as the holes that it keeps closed grow to their last size.
    """

    fingering: str
    now: float
    turned: float
    later: float


@dataclass(frozen=True, slots=True)
class StartSizes:
    """Foot and holes to begin with, in mm, and the notes that they will give.

    `chance` is the most by which a flute of this spread is already past a size that it needs.
    """

    foot_first: float
    foot_last: float
    foot_likely: float
    chance: float
    holes: tuple[StartHole, ...]
    notes: tuple[StartNote, ...]

    def to_json(self) -> dict[str, Any]:
        """The start sizes as JSON."""
        return asdict(self)


def start_sizes(
    instrument: Instrument,
    air: Air,
    targets: Mapping[str, float],
    spread: ShopSpread | None = None,
    turning: float = 0.0,
    drills: Sequence[float] | None = None,
    chance: float = CHANCE,
) -> StartSizes:
    """Start sizes for a designed flute.

    `targets` are Hz by fingering, one note for each hole and the all closed one (no cross fingerings); `turning` is
    how much thicker than the finished wall the wall still is, in mm; `drills` in mm rounds down to a drill.

    The sizes likely in the end are those that bring a flute in tune which stands `spread.off` above the model. With J
    the cents by which the notes move for a mm of foot or of a hole's diameter, there and with the outside finished, a
    flute whose notes stand off by e more needs its sizes changed by -inverse(J) e. Their spread follows from that of e;
    each start size keeps its normal quantile of `chance` over the number of sizes (Bonferroni's inequality), so that
    the chance that any is past stays below `chance`. J holds what a wider hole does to the notes that keep it closed.
    Where a hole would have to start below `LEAST_SHARE` of its diameter it does not, and the chance that is told is
    larger.

    Raises InvalidInput where notes and holes do not match, or `turning` or `chance` are out of range.
    """
    shop = spread or ShopSpread()
    n = len(instrument.holes)
    if len(targets) != n + 1:
        raise InvalidInput("targets", len(targets), f"must be {n + 1} notes, one for each hole and the closed one")
    fields.number(turning, "turning", 0.0, 20.0, "mm")
    fields.number(chance, "chance", 1e-6, 0.5)
    fingerings = list(targets)
    wanted = np.array(list(targets.values()))
    layout = layout_of(instrument)
    model = PitchModel(instrument, fingerings, air, modes=1)
    sizes = np.array([0, *range(n + 1, 2 * n + 1)])
    likely = _in_tune(model, layout, wanted / 2.0 ** (shop.off / 1200.0), sizes) if shop.off else layout
    gradient = model.gradient(likely, model.search(likely))[:, 0]
    back = np.linalg.inv(gradient[:, sizes])
    sd = np.sqrt(np.diag(back @ shop.covariance(n + 1) @ back.T))
    room = -ndtri(chance / (n + 1)) * sd
    first = likely.copy()
    first[0] = np.ceil(2.0 * (likely[0] + room[0])) / 2.0
    first[n + 1 :] = [
        _drill(max(last - less, LEAST_SHARE * last), drills)
        for last, less in zip(likely[n + 1 :], room[1:], strict=True)
    ]
    spare = np.abs(first - likely)[sizes]
    risk = float(np.sum(ndtr(-spare / np.maximum(sd, 1e-9))))
    thick = with_layout(replace(instrument, body=replace(instrument.body, wall=instrument.body.wall + turning)), first)
    now = _cents(thick, fingerings, air, wanted)
    turned = _cents(with_layout(instrument, first), fingerings, air, wanted)
    later = []
    for i, fingering in enumerate(fingerings):
        grown = first.copy()
        closed = [n + 1 + hole for hole, letter in enumerate(fingering) if letter == "x"]
        grown[closed] = likely[closed]
        later.append(float(_cents(with_layout(instrument, grown), [fingering], air, wanted[i : i + 1])[0] - turned[i]))
    return StartSizes(
        float(first[0]),
        float(layout[0]),
        float(likely[0]),
        min(1.0, risk) if np.any(sd > 0.0) else 0.0,
        tuple(
            StartHole(float(x), float(a), float(b), float(c))
            for x, a, b, c in zip(layout[1 : n + 1], first[n + 1 :], layout[n + 1 :], likely[n + 1 :], strict=True)
        ),
        tuple(StartNote(f, float(a), float(b), c) for f, a, b, c in zip(fingerings, now, turned, later, strict=True)),
    )


def _in_tune(model: PitchModel, layout: Array, wanted: Array, sizes: Array) -> Array:
    """The layout near `layout` with foot and diameters such that the notes sound as `wanted`, Hz."""
    goal = Goal(wanted, np.full((len(wanted), 1), TUNING_WEIGHT), 1e-4 * np.eye(len(layout)), 1e-4 * layout)
    return fit(model, goal, [], layout, free=sizes.tolist()).layout


def _drill(diameter: float, drills: Sequence[float] | None) -> float:
    """The largest drill not above a diameter; to a tenth of a mm below where there is none."""
    fitting = [d for d in drills or () if d <= diameter]
    return max(fitting) if fitting else np.floor(10.0 * diameter) / 10.0


def _cents(instrument: Instrument, fingerings: list[str], air: Air, wanted: Array) -> Array:
    layout = layout_of(instrument)
    w = PitchModel(instrument, fingerings, air, modes=1).search(layout)[:, 0]
    return np.asarray(CENTS * np.log(w.real / (2.0 * np.pi * wanted)))
