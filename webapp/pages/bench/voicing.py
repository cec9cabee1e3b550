"""What the bench shows at voicing: where the lowest note stands, and what it will come to in the finished flute."""

from typing import Any

from sqlmodel import Session

from webapp.models import Blank, Reading, Shop
from webapp.shop.advice import speaking, voicing
from webapp.shop.bench import as_built

COMMON = (5.0, 10.0)  # cents low before turning (common practice, no published source)


def can_be_brought_up(predicted: dict[str, Any] | None, shop: Shop) -> bool:
    """Whether a lowest note off the usual place before turning is still no fault: it will not end too sharp, and the
    foot can bring up what is left."""
    if predicted is None or predicted["it"].before_foot is None:
        return False
    return bool(-predicted["it"].foot_part <= predicted["it"].before_foot <= shop.tolerance_cents)


def shown(session: Session, shop: Shop, blank: Blank, last: Reading | None) -> dict[str, Any] | None:
    """Now, each thing still to come, and the end; None where it can't be predicted."""
    found = voicing.predict_end(session, shop, blank, last)
    if found is None:
        return None
    return {
        "it": found,
        "rows": [(voicing.CAUSES[part.cause], part.cents, part.sd) for part in found.parts],
        "common": found.now is not None and COMMON[0] <= -found.now <= COMMON[1],
        "says": found.advice(shop.tolerance_cents),
        "troubles": speaking.TROUBLES,
        "source": speaking.SOURCE,
        "gauged": as_built.of(session, blank).gauged,
    }
