"""What the simulation of the queue is given: jobs and their pieces of work, hands, and the days at the bench."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

OPENS: Final = 8 / 24
"""When the working day begins and how long it is, as parts of a day: a wait that ends within it leaves the rest."""
DAY: Final = 10 / 24
LONGEST: Final = 4 * 365
"""Days after which whatever is still open counts as never finished."""
ENOUGH: Final = 1000
"""Places in the clamps from which on nobody waits for one."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of work [hours, by stage], and the wait after it [hours]. `clamps`: it takes a place in the clamps."""

    hours: tuple[float, ...]
    wait: float = 0.0
    clamps: bool = False

    @property
    def total(self) -> float:
        return sum(self.hours)


@dataclass(frozen=True, slots=True)
class Job:
    """One flute to be made: what is left of it, what all of it would be if it had to be started again.

    `ready`: the day from which it may be worked on. `key`: what it belongs to, such as an order.
    """

    key: str
    left: tuple[Piece, ...]
    whole: tuple[Piece, ...] = ()
    ready: float = 0.0


@dataclass(frozen=True, slots=True)
class Hands:
    """How long the pieces of each stage take, compared with their usual hours, and how often one is spoilt.

    `sd`: of the logarithm, from flute to flute. `unsure`: of the logarithm of the usual hours themselves, as few
    records leave it. `spoilt`: the chance that a flute is given up at each stage, and started again.
    """

    sd: tuple[float, ...]
    unsure: tuple[float, ...]
    spoilt: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Bench:
    """What there is to work with. `hours` and `longest` (most of one person) for each of `LONGEST` days.

    `pace`, `pace_sd`: which part of those hours goes into flutes, and the logarithm's spread from week to week;
    `pace_unsure`: how well that part is known. `places`: how many flutes can go into clamps on one day.
    """

    hours: NDArray[np.float64]
    longest: NDArray[np.float64]
    pace: float = 1.0
    pace_sd: float = 0.0
    pace_unsure: float = 0.0
    places: int = ENOUGH
    weekday: int = 0  # of the first day
