"""Two flutes side by side: which dimensions differ, by how much, and what that does to the notes."""

from collections.abc import Sequence
from dataclasses import dataclass

from acoustics.designing.design import DesignedNote
from acoustics.flute.instrument import Instrument
from webapp.shop.patterns.dimension_table import rows

SAME = 0.005
"""mm or degrees: a smaller difference is finer than any tool can cut."""


@dataclass(frozen=True, slots=True)
class Differing:
    """One dimension in both flutes; None where a flute does not have it."""

    part: str
    name: str
    unit: str
    first: float | None
    second: float | None

    @property
    def by(self) -> float | None:
        """Second less first."""
        return None if self.first is None or self.second is None else self.second - self.first

    @property
    def changed(self) -> bool:
        return self.by is None or abs(self.by) >= SAME


@dataclass(frozen=True, slots=True)
class NotesApart:
    """One fingering in both: its note and predicted cents; None where a chart does not have it."""

    fingering: str
    note: str
    first: float | None
    second: float | None


def dimensions(first: Instrument, second: Instrument) -> list[Differing]:
    """Every dimension that either has, in the order of the air's path."""
    ones, others = ({row.place: row for row in rows(flute)} for flute in (first, second))
    # Dimensions that only the second has follow the part that they belong to, or come last.
    places = [*ones, *(place for place in others if place not in ones)]
    parts = list(dict.fromkeys(part for part, _ in places))
    found = []
    for place in sorted(places, key=lambda place: parts.index(place[0])):
        one, other = ones.get(place), others.get(place)
        row = one or other
        assert row is not None
        found.append(
            Differing(row.part, row.name, row.unit, one.value if one else None, other.value if other else None)
        )
    return found


def notes(first: Sequence[DesignedNote], second: Sequence[DesignedNote]) -> list[NotesApart]:
    """Predicted cents of every fingering of either chart."""
    ones, others = ({note.fingering: note for note in chart} for chart in (first, second))
    return [
        NotesApart(
            fingering,
            (ones.get(fingering) or others[fingering]).note,
            _cents(ones.get(fingering)),
            _cents(others.get(fingering)),
        )
        for fingering in dict.fromkeys((*ones, *others))
    ]


def _cents(note: DesignedNote | None) -> float | None:
    return None if note is None else note.cents
