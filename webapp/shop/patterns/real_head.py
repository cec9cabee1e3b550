"""A pattern that was drawn before its head could be said gets it: flat, edge height, block, fingers; its holes stay."""

from dataclasses import replace

from sqlmodel import Session

from acoustics.designing.proportions import FINGER_DEPTH, head
from acoustics.flute.instrument import Finger, Instrument
from webapp.models import PatternRevision
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.patterns import importing, rules as patterns
from webapp.shop.people.accounts import Who

USUAL_FLUE = 22.0
"""mm: where a pattern names no flue."""


def has_real_head(flute: Instrument) -> bool:
    """Whether all of it is said: then there is nothing to give."""
    return flute.window.planed and flute.block is not None and flute.finger is not None


def with_real_head(flute: Instrument) -> Instrument:
    """The same flute, what it does not say of its head filled in as makers do; all sizes that it says are kept.

    The edge is level with the floor of the flue, the block as wide as the flat that its wall at the window leaves.
    """
    window = flute.window
    made = head(
        flute.bore_diameter(0.0),
        flute.body.wall,
        flute.body.outside,
        window.length,
        flute.flue.length if flute.flue else USUAL_FLUE,
        window.width,
        flute.window_wall,
    )
    depth = flute.flue.depth if flute.flue else made.flue_depth
    edge = window.edge_height or max(0.0, round(flute.window_wall - depth, 1))
    return replace(
        flute,
        window=replace(window, planed=True, edge_height=edge),
        block=flute.block or made.block,
        finger=flute.finger or Finger(min(FINGER_DEPTH, 0.5 * flute.body.wall)),
    )


def give_real_head(session: Session, who: Who, pattern_id: int, number: int) -> PatternRevision:
    """Save a revision with its real head as a new one, with the same foot and holes, and what it predicts of them.

    The old one stays as it is, and so does what was learned from flutes built of it. Raises NotAllowed, NotFound,
    Refused.
    """
    who.must_work()
    pattern = patterns.pattern_of(session, pattern_id)
    flute = patterns.instrument_of(patterns.revision_of(session, pattern_id, number))
    if has_real_head(flute):
        raise Refused("This revision says already how its head is made.")
    try:
        designed = importing.as_it_is(session, pattern, with_real_head(flute))
    except Invalid as error:
        raise Refused(" ".join(error.errors.values())) from error
    note = f"Revision {number} with its head as it is made; foot and holes unchanged"
    return patterns.save_imported_revision(session, who, pattern_id, designed, note)
