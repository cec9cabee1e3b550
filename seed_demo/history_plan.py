"""The orders and flutes of the year before, as the play of the shop leaves them and the rows are written from."""

from dataclasses import dataclass, field
from datetime import datetime


@dataclass(slots=True)
class Flute:
    """One flute on its way. `made`: the steps that were done, each by its place in the routing, by whom, when."""

    order: int
    place: int  # which of the order's flutes
    pattern: str
    wood: str
    due: int
    opened: datetime
    slow: float
    lost_at: str | None = None
    at: int = 0
    free: datetime | None = None
    spent: float = 0.0
    busy: bool = False
    made: list[tuple[int, int, datetime]] = field(default_factory=list)
    glued: tuple[datetime, datetime, datetime] | None = None
    done: datetime | None = None


@dataclass(frozen=True, slots=True)
class Taken:
    """An order of the past."""

    number: int
    day: int
    due: int
    customer: str
    pattern: str
    wood: str
    flutes: int
