"""What a border may ask about an order's flutes: species, where the wood came from, weight, what to check.

General words only: what is restricted changes, and differs from country to country.
"""

from dataclasses import dataclass
from math import pi

from sqlmodel import Session, col, select

from acoustics.flute.instrument import Instrument
from webapp.models import Blank, BlankStatus, Order, OrderedFlute, PatternRevision
from webapp.shop.base.errors import NotFound
from webapp.shop.patterns.revisions import instrument_of
from webapp.shop.units.keys import show_note
from webapp.shop.wood import species as woods
from webapp.shop.wood.botanical import scientific_name
from webapp.shop.wood.origin import origin_of

DAMP = 1.12  # wood at 12 percent of moisture weighs so much more than ovendry; the handbook's gravity is ovendry
TO_CHECK = (
    "Ask the customs office and the plant health authority of both countries before you send it: what they ask for "
    "changes, and this sheet is no advice.",
    "Solid wood and bark-free, finished wooden goods are often treated differently: say which it is, and ask whether "
    "a certificate or treatment is wanted.",
    "Say the scientific name of every wood in it, block, inlay and case among them; a trade name is not enough.",
    "Look each wood up in the current CITES appendices, as a finished instrument too, and keep the papers that show "
    "where it came from.",
    "Cord, leather, feather, shell and bone have rules of their own.",
    "Value, tariff number and origin of the goods are declared by whoever sends them: write what is true.",
)


@dataclass(frozen=True, slots=True)
class Piece:
    """One flute: its wood, where that came from, what it weighs by its drawing [g], what to check."""

    what: str
    serial: str
    wood: str
    scientific: str
    restricted: bool
    source: str
    papers: str
    papers_missing: bool
    weight: int | None
    to_check: tuple[str, ...]


def pieces_of(session: Session, order: Order) -> list[Piece]:
    """The flutes that leave with the order. Raises NotFound before one is finished."""
    rows = session.exec(
        select(Blank, PatternRevision)
        .join(OrderedFlute, col(OrderedFlute.id) == Blank.ordered_flute_id)
        .join(PatternRevision, col(PatternRevision.id) == Blank.revision_id)
        .where(OrderedFlute.order_id == order.id)
        .where(col(Blank.status).in_((BlankStatus.FINISHED, BlankStatus.HANDED_OVER)))
        .order_by(col(OrderedFlute.position), col(Blank.id))
    ).all()
    first: dict[int | None, tuple[Blank, PatternRevision]] = {}
    for blank, revision in rows:
        first.setdefault(blank.ordered_flute_id, (blank, revision))
    if not first:
        raise NotFound(f"No flute of order {order.number} is finished yet: there is nothing to declare.")
    return [_piece(session, blank, revision) for blank, revision in first.values()]


def _piece(session: Session, blank: Blank, revision: PatternRevision) -> Piece:
    came = origin_of(session, blank)
    figures = woods.figures(came.species)
    check = came.species.what_to_check
    return Piece(
        what=f"Flute in {show_note(blank.key)}",
        serial=blank.serial,
        wood=came.species.name,
        scientific=scientific_name(came.species.name),
        restricted=came.species.restricted,
        source=came.source,
        papers=came.papers,
        papers_missing=came.papers_missing,
        weight=weight_of(instrument_of(revision), figures.gravity_dry) if figures else None,
        to_check=(check,) if check else (),
    )


def weight_of(flute: Instrument, gravity: float) -> int:
    """What a flute weighs by its drawing [g], to some 15 percent: a tube of the bore and the wall, the slow air chamber
    and the plug between them; no block, no cord."""
    outside = max(diameter for _, diameter in flute.bore) + 2 * flute.body.wall
    length = (
        flute.foot_x + (flute.flue.length if flute.flue else 0.0) + (flute.chamber.length if flute.chamber else 0.0)
    )
    hollow = _hollow(flute) + (pi / 4 * flute.chamber.diameter**2 * flute.chamber.length if flute.chamber else 0.0)
    return round((pi / 4 * outside**2 * length - hollow) / 1000 * gravity * DAMP)


def _hollow(flute: Instrument) -> float:
    """The volume of the sound chamber [mm3], its bore taken as cones from size to size."""
    return sum(
        pi / 12 * (after - before) * (d * d + d * e + e * e)
        for (before, d), (after, e) in zip(flute.bore, flute.bore[1:], strict=False)
    )
