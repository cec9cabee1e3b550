"""How well a shop would have foreseen each of its flutes by what those before it had taught."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from acoustics.belief.corrections import Prior
from acoustics.learning.estimate import Learned, learn_from
from acoustics.learning.evidence import Evidence
from acoustics.model.implicit import Array

_MORE: Final = 1.15
"""Growth in the number of flutes after which the shop has learned again: one more of a hundred changes nothing."""


@dataclass(frozen=True, slots=True)
class Foreseen:
    """The first reading of each note of one flute against what was expected of it (root mean square, cents): by what
    earlier flutes had taught, `off`, and by the model alone, `alone`; `rests_on` how many flutes had taught."""

    flute: str
    family: str
    off: float
    alone: float
    rests_on: int

    def to_json(self) -> dict[str, Any]:
        """As JSON."""
        return {name: getattr(self, name) for name in ("flute", "family", "off", "alone", "rests_on")}


def course(found: Sequence[Evidence], base: Prior | None = None) -> list[Foreseen]:
    """Each flute (oldest first) foreseen from those before it, never from itself or later ones."""
    prior = Prior() if base is None else base
    learned = learn_from((), prior)
    told = 0
    foreseen = []
    for i, flute in enumerate(found):
        if i and i >= told * _MORE:
            learned, told = learn_from(found[:i], prior), i
        first = np.array(list({f: at for at, f in reversed(list(enumerate(flute.fingerings)))}.values()), dtype=int)
        off = flute.cents[first] - flute.rows[first] @ _expected(flute, learned)
        alone = flute.cents[first] - flute.rows[first] @ _expected(flute, None)
        foreseen.append(Foreseen(flute.name, flute.family, _rms(off), _rms(alone), told))
    return foreseen


def _expected(flute: Evidence, learned: Learned | None) -> Array:
    """Corrections and offsets of the notes that a flute is expected to have; those of the bare model for none."""
    if learned is None:
        return np.zeros(flute.rows.shape[1])
    mean = learned.families.get(flute.family, learned.common).mean
    return np.concatenate([mean, [learned.notes.get(note, 0.0) for note in flute.notes]])


def _rms(off: Array) -> float:
    return float(np.sqrt(np.mean(off**2))) if len(off) else 0.0
