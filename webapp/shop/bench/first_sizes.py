"""Start sizes of a revision for a given spread: how small each hole is first drilled, how long the foot is left."""

from functools import lru_cache

from sqlmodel import Session, col, select

from acoustics.designing.shop_spread import ShopSpread
from acoustics.designing.starting import StartSizes, start_sizes
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from webapp.models import Drill, Pattern, PatternRevision, Shop
from webapp.shop.base.finding import find
from webapp.shop.bench.readings import goals_of
from webapp.shop.patterns import rules as patterns
from webapp.shop.patterns.revisions import cross_fingerings
from webapp.shop.settings import air

Goals = tuple[tuple[str, float], ...]


def sizes_for(
    session: Session, pattern: Pattern, revision: PatternRevision, spread: ShopSpread, turning: float = 0.0
) -> StartSizes | None:
    """Start sizes with the shop's drills and played air; None where they can't be told.

    They need one note for each finger hole beside the lowest; a chart that has fewer, such as one that keeps a hole
    closed throughout, has none. `turning`: how much thicker the wall still is when the first notes are read [mm].
    """
    shop = find(session, Shop, 1, "shop")
    drills = tuple(session.exec(select(Drill.diameter).order_by(col(Drill.diameter))))
    cross = cross_fingerings(revision)
    goals = tuple((g.fingering, g.frequency) for g in goals_of(revision, pattern) if g.fingering not in cross)
    return _calculated(patterns.instrument_of(revision), air.played(shop), goals, drills, spread, turning)


# A page that is opened again, and each blank of a batch, ask for the same.
@lru_cache(maxsize=256)
def _calculated(
    flute: Instrument, medium: Air, goals: Goals, drills: tuple[float, ...], spread: ShopSpread, turning: float
) -> StartSizes | None:
    try:
        return start_sizes(flute, medium, dict(goals), spread, turning, drills or None)
    except InvalidInput:  # notes and holes do not match
        return None
