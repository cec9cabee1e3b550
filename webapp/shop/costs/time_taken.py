"""How long the shop's finished flutes took at each stage, beside the minutes that its prices are calculated with.

Times that someone recorded for flutes count as they are, once there are enough of them. Before that the time is what
the flutes' own entries show: from one entry to the next on the same day, so that a break or a customer in between is in
it (`past_work`); it is calculated in the background with the dates. Flutes finished in the last year count.
"""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from sqlmodel import Session, col, select

from webapp.models import Blank, BlankMinutes, BlankStatus, ForecastKind, Stage, StockKind, now
from webapp.shop.scheduling import forecasts, past_work
from webapp.shop.settings.workshop import supplies

ENOUGH: Final = 5
"""Flutes; of fewer a median says little."""
_OVER: Final = (BlankStatus.FINISHED, BlankStatus.HANDED_OVER)


@dataclass(frozen=True, slots=True)
class Took:
    """Minutes that finished flutes took at a stage: the one in the middle, the middle half of them, how many they are.

    `noted`: someone recorded them; otherwise they are taken from entries.
    """

    stage: Stage
    middle: int
    low: int
    high: int
    count: int
    noted: bool


def taken(session: Session) -> dict[Stage, Took]:
    """For each stage that enough finished flutes have a time for."""
    known = forecasts.latest(session, ForecastKind.QUEUE, finished=True)
    seen: dict[str, Any] = (known.result or {}).get("took", {}) if known else {}
    noted = _noted(session, now() - past_work.YEAR)
    found = {}
    for stage in Stage:
        own = noted.get(stage, [])
        said = past_work.middle_half(own) if len(own) >= ENOUGH else seen.get(stage.value)
        if said and said["count"] >= ENOUGH:
            found[stage] = Took(stage, said["middle"], said["low"], said["high"], said["count"], len(own) >= ENOUGH)
    return found


def supplies_cost(session: Session) -> Decimal:
    """What one flute usually takes of glue, finish and cord, at what these cost as they lie on the shelf."""
    parts = [
        item.unit_cost * Decimal(str(quantity))
        for item, quantity in supplies(session)
        if item.kind is not StockKind.BLOCK_BLANK
    ]
    return sum(parts, Decimal(0)).quantize(Decimal("0.01"))


def _noted(session: Session, since: datetime) -> dict[Stage, list[float]]:
    """The times that were recorded for finished flutes; of each flute and stage the last one counts."""
    rows = session.exec(
        select(BlankMinutes)
        .join(Blank, col(Blank.id) == BlankMinutes.blank_id)
        .where(col(Blank.status).in_(_OVER), col(Blank.finished_at) >= since)
        .order_by(col(BlankMinutes.id))
    )
    found: dict[Stage, dict[int, float]] = {}
    for row in rows:
        found.setdefault(row.stage, {})[row.blank_id] = float(row.minutes)
    return {stage: list(of.values()) for stage, of in found.items()}
