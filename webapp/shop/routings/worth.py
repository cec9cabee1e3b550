"""How far a gauge's size may be off before a note moves by so many cents: limits that follow from the tuning."""

from functools import lru_cache
from typing import Final

from acoustics.designing.tolerance import TENTH, sensitivities
from acoustics.flute.instrument import Instrument
from acoustics.model.air import PLAYED_FLUTE

# A kind of size in the engine, and by how much it changes for one mm more on the gauge. What is not here (flue,
# chamber, seat) moves how a flute speaks and not where it resonates, or is gauged by another size.
MOVES: Final[dict[str, tuple[str, float]]] = {
    "bore-foot": ("bore", 1.0),
    "bore-widest": ("bore", 1.0),
    "bore-narrowest": ("bore", 1.0),
    "bore-half": ("bore", 2.0),
    "foot": ("foot", 1.0),
    "wall": ("wall", 1.0),
    "outside": ("wall", 0.5),
    "window-length": ("window length", 1.0),
    "window-width": ("window width", 1.0),
    "window-wall": ("window wall", 1.0),
    "edge-height": ("edge height", 1.0),
    "last-hole": ("hole position", 1.0),
}
FINEST: Final = 0.1
"""mm that calipers and a hand can hold, below which no limit is asked for: common practice, no published source."""


def off_by(of: str, flute: Instrument, cents: float) -> float | None:
    """mm by which this size may be off so that no note moves by more than `cents`; None where none does."""
    kind, share = MOVES.get(of, ("", 0.0))
    most = _most(flute).get(kind, 0.0) * share
    return max(FINEST, int(100.0 * cents / most) / 100.0) if most else None


@lru_cache(maxsize=64)
def _most(flute: Instrument) -> dict[str, float]:
    """The most cents by which one mm of each kind of size moves a note, holes opened one by one from the foot."""
    holes = len(flute.holes)
    chart = ["x" * (holes - opened) + "o" * opened for opened in range(holes + 1)]
    found = sensitivities(flute, PLAYED_FLUTE, chart)
    most: dict[str, float] = {}
    for dimension, row in zip(found.dimensions, found.cents, strict=True):
        if dimension.unit == "mm":
            most[dimension.kind] = max(most.get(dimension.kind, 0.0), *(abs(cents) / TENTH for cents in row))
    return most
