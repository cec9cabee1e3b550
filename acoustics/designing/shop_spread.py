"""How far a shop's finished flutes stand from the model, learned from those it has finished.

A note of a flute stands m + a + b cents above the model: m is the same for all flutes of the shop, a for all notes
of a flute, b is the note's own. A young shop knows neither m nor the spreads; the stated ones then count as if they
had been seen on a few flutes, and the shop's own take over as flutes come in (empirical Bayes: Efron and Morris 1975,
J. Am. Stat. Assoc. 70, 311; by expectation and maximisation: Dempster, Laird and Rubin 1977, J. R. Stat. Soc. B 39, 1).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from acoustics import fields

Array = NDArray[np.float64]

WORTH: Final = 4.0
"""How many flutes the stated spread of whole flutes counts for."""
NOTE_WORTH: Final = 24.0
"""How many notes the stated spread of single notes counts for: six on each of those flutes."""
SHARED: Final = 0.5
"""Part of the stated variance of whole flutes that all flutes of a shop have in common: it is m, not a."""
_ITERATIONS: Final = 100


@dataclass(frozen=True, slots=True)
class ShopSpread:
    """How far a flute still to be made will stand above the model, in cents.

    `off` is expected of every note; `common` and `each` are standard deviations, of the whole flute and of each note by
    itself; `flutes` tells how many finished ones this rests on. The defaults are for a shop that has not finished any:
    8 cents for the window, the wood and 2 degrees of breath, 5 for each hole (estimates, no published source).
    """

    common: float = 8.0
    each: float = 5.0
    off: float = 0.0
    flutes: int = 0

    @staticmethod
    def from_json(document: object, field: str = "spread") -> ShopSpread:
        """Read a spread; what is absent keeps its default. Raises InvalidInput."""
        given: Mapping[str, Any] = fields.mapping(document, field, ("common", "each", "off"))
        least = {"common": 0.0, "each": 0.0, "off": -100.0}
        read = {k: fields.number(v, f"{field}.{k}", least[k], 100.0, "cents") for k, v in given.items()}
        return ShopSpread(read.get("common", 8.0), read.get("each", 5.0), read.get("off", 0.0))

    def covariance(self, notes: int) -> Array:
        """Covariance (notes, notes) of the deviations around `off`, in square cents."""
        return self.common**2 * np.ones((notes, notes)) + self.each**2 * np.eye(notes)


def learned_spread(flutes: Sequence[Sequence[float]], stated: ShopSpread | None = None) -> ShopSpread:
    """The spread to expect after some flutes; each is given by how far its notes stand above the model, in cents.

    `stated` is what is assumed before the first. The `common` that comes out holds for the next flute: what is still
    not known of m is in it. A flute without notes counts for nothing.
    """
    first = stated or ShopSpread()
    heard = [np.asarray(flute, dtype=float) for flute in flutes if len(flute)]
    if not heard:
        return first
    counts = np.array([len(flute) for flute in heard], dtype=float)
    means = np.array([float(np.mean(flute)) for flute in heard])
    within = sum(float(np.sum((flute - mean) ** 2)) for flute, mean in zip(heard, means, strict=True))
    each = (NOTE_WORTH * first.each**2 + within) / (NOTE_WORTH + float(np.sum(counts - 1.0)))
    shared, own = SHARED * first.common**2, (1.0 - SHARED) * first.common**2
    if shared == 0.0:
        return ShopSpread(0.0, float(np.sqrt(each)), first.off, len(heard))
    spread, m, v = own, first.off, shared
    for _ in range(_ITERATIONS):
        reading = each / counts
        weight = 1.0 / (spread + reading)
        v = 1.0 / (1.0 / shared + float(np.sum(weight)))
        m = v * (first.off / shared + float(np.sum(weight * means)))
        kept = spread * weight
        away = kept * (means - m)
        scatter = away**2 + spread * (1.0 - kept) + kept**2 * v
        before, spread = spread, (WORTH * own + float(np.sum(scatter))) / (WORTH + len(heard))
        if abs(spread - before) < 1e-9 * own:
            break
    return ShopSpread(float(np.sqrt(spread + v)), float(np.sqrt(each)), float(m), len(heard))
