"""Start sizes of a revision: how small each hole is first drilled, how long the foot is left, and why."""

from dataclasses import dataclass
from functools import lru_cache

from sqlmodel import Session, col, select

from acoustics.air import Air
from acoustics.errors import InvalidInput
from acoustics.instrument import Instrument
from acoustics.starting import CHANCE, ShopSpread, StartSizes, start_sizes
from webapp.models import Drill, Pattern, PatternRevision, Shop
from webapp.shop import air, patterns
from webapp.shop.finding import find
from webapp.shop.readings import goals_of

Goals = tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Start:
    """The sizes, and the shop's spread in cents that they leave room for."""

    sizes: StartSizes
    spread: ShopSpread
    chance: float = CHANCE

    @property
    def reason(self) -> str:
        """Why the sizes are what they are, in words for the bench."""
        common, each = self.spread.common, self.spread.each
        return (
            f"Flutes come out of their model by some {common:g} cents as a whole and {each:g} cents in each note. "
            "Holes only get larger and the foot only gets shorter, so each size starts on the safe side: from these, "
            f"fewer than {100 * self.chance:g} flute in 100 should turn out to be cut too far already. Opening a "
            "hole flattens the notes that keep it closed; that is reckoned in."
        )

    def hole(self, number: int) -> tuple[float, float]:
        """First and finished diameter of a finger hole, numbered from 1 [mm]."""
        found = self.sizes.holes[number - 1]
        return found.first, found.last


def start_of(session: Session, pattern: Pattern, revision: PatternRevision) -> Start | None:
    """Start sizes with the shop's drills and played air, the outside already turned; None where they can't be told.

    They need one note for each finger hole beside the lowest; a chart that has fewer, such as one that keeps a hole
    closed throughout, has none.
    """
    shop = find(session, Shop, 1, "shop")
    drills = tuple(session.exec(select(Drill.diameter).order_by(col(Drill.diameter))))
    cross = {str(note["fingering"]) for note in revision.notes if note.get("cross")}
    goals = tuple((g.fingering, g.frequency) for g in goals_of(revision, pattern) if g.fingering not in cross)
    return reckoned(patterns.instrument_of(revision), air.played(shop), goals, drills)


# A page that is opened again, and each blank of a batch, ask for the same.
@lru_cache(maxsize=256)
def reckoned(flute: Instrument, medium: Air, goals: Goals, drills: tuple[float, ...]) -> Start | None:
    """Start sizes in mm for a flute and its notes (fingering, Hz); None where notes and holes do not match."""
    spread = ShopSpread()
    try:
        return Start(start_sizes(flute, medium, dict(goals), spread, drills=drills or None), spread)
    except InvalidInput:
        return None
