"""A flute that misses what it was made for: which open order, waiting customer or usual key it can still become."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from math import log2
from typing import Annotated

from pydantic import BaseModel, StringConstraints
from sqlmodel import Session, col, select

from acoustics.errors import InvalidInput
from acoustics.notes.music import Target, targets
from acoustics.tuning.advise import AdviceRequest
from acoustics.tuning.aims import Aim
from acoustics.tuning.becoming import Becomes, becomes
from acoustics.tuning.words import in_ten
from webapp.models import Blank, BlankStatus, Order, OrderedFlute, OrderStatus, Pattern, PatternRevision, Shop, Species
from webapp.shop.advice import next_cut
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.base.finding import find
from webapp.shop.bench import cuts
from webapp.shop.blanks.state import lock
from webapp.shop.orders import flutes, rules as orders
from webapp.shop.patterns import importing, rules as patterns
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.production.new_aims import new_sizes
from webapp.shop.production.opening import order_of
from webapp.shop.units.keys import show_note
from webapp.shop.units.sounding import Sounding

LOWER, HIGHER = -20.0, 260.0  # cents: a lowest note beyond them is not worth looking at
MOST = 12  # different tunings that are looked at, the nearest first
TAKEN = (OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP)
WAITING = (OrderStatus.ENQUIRY, OrderStatus.QUOTED)


class Move(BaseModel):
    """Where a blank goes: to a flute of an order, or to the shelf as a key that the shop usually makes."""

    flute_id: int | None = None
    pattern_id: int | None = None
    why: Annotated[str, StringConstraints(max_length=300)] = ""


@dataclass(frozen=True, slots=True)
class Chance:
    """One thing that a blank could become: for a flute of an order, or (`pattern_id`) a usual key for the shelf.

    `waits` where the order is not confirmed yet; `other_wood` names the wood it asks for where that is another; `price`
    what it sells for, for those who see that.
    """

    sounding: Sounding
    becomes: Becomes
    order: Order | None = None
    flute: OrderedFlute | None = None
    pattern_id: int | None = None
    waits: bool = False
    other_wood: str = ""
    price: Decimal | None = None

    @property
    def how_sure(self) -> str:
        """The chance that no note ends too sharp, in words of ten as at the bench."""
        return in_ten(self.becomes.chance)

    @property
    def movable(self) -> bool:
        """Whether one tap moves it there."""
        return self.becomes.possible and not self.waits


def chances(session: Session, shop: Shop, blank: Blank) -> list[Chance]:
    """All that is open and near enough, what can be had first; orders before customers who wait, those before the
    shelf. Raises Invalid where the flute's sizes are not known."""
    if blank.status is not BlankStatus.IN_WORK or blank.stage not in cuts.CUTTING:
        return []
    try:
        asked = next_cut.request_of(session, shop, blank)
    except InvalidInput as error:
        raise Invalid({"": f"{error.field}: {error.limit}."}) from error
    woods = dict(session.exec(select(Species.id, Species.name)).all())
    found = []
    for one in _candidates(session, blank):
        reached = _reached(asked.request, one.sounding)
        if reached is None:
            continue
        other = woods.get(one.flute.species_id, "") if one.flute and one.flute.species_id != blank.species_id else ""
        found.append(
            Chance(
                one.sounding,
                reached,
                one.order,
                one.flute,
                one.pattern_id,
                one.order is not None and one.order.status in WAITING,
                other,
                one.flute.price if one.flute is not None else None,
            )
        )
    return sorted(found, key=lambda c: (not c.becomes.possible, c.waits, c.order is None, bool(c.other_wood)))


@dataclass(frozen=True, slots=True)
class _Candidate:
    sounding: Sounding
    order: Order | None = None
    flute: OrderedFlute | None = None
    pattern_id: int | None = None


def _candidates(session: Session, blank: Blank) -> Iterator[_Candidate]:
    """Flutes of open orders that have no blank, then what the shop's patterns sound; the nearest tunings alone."""
    own = _sounding(find(session, Pattern, _pattern_id(session, blank), "pattern"))
    has_one = select(Blank.ordered_flute_id).where(
        col(Blank.ordered_flute_id).is_not(None), Blank.status != BlankStatus.FIREWOOD
    )
    rows = session.exec(
        select(OrderedFlute, Order)
        .join(Order, col(Order.id) == OrderedFlute.order_id)
        .where(col(Order.status).in_((*TAKEN, *WAITING)), OrderedFlute.holes == own.holes)
        .where(col(OrderedFlute.id).not_in(has_one))
        .order_by(col(Order.due_on), col(OrderedFlute.id))
        .limit(300)
    ).all()
    usual: dict[str, _Candidate] = {}
    for pattern in session.exec(select(Pattern).where(Pattern.holes == own.holes).order_by(col(Pattern.id)).limit(300)):
        sounding = _sounding(pattern)
        if sounding != own:
            usual.setdefault(sounding.model_dump_json(), _Candidate(sounding, pattern_id=pattern.id))
    every = [_Candidate(_sounding(flute), order, flute) for flute, order in rows] + list(usual.values())
    near = {one.sounding.model_dump_json(): _apart(own, one.sounding) for one in every}
    kept = [said for said in sorted(near, key=lambda said: abs(near[said])) if LOWER < near[said] < HIGHER][:MOST]
    return (one for one in every if one.sounding.model_dump_json() in kept)


def _sounding(of: Pattern | OrderedFlute) -> Sounding:
    return Sounding.model_validate(of.model_dump(include=set(Sounding.model_fields)))


def _pattern_id(session: Session, blank: Blank) -> int:
    return find(session, PatternRevision, blank.revision_id, "revision").pattern_id


def _targets(sounding: Sounding) -> tuple[Target, ...]:
    return targets(sounding.key, sounding.scale, sounding.holes, sounding.a4, sounding.temperament)


def _apart(own: Sounding, other: Sounding) -> float:
    """Cents by which the lowest note of another sounding lies higher."""
    lowest = [min(t.frequency for t in _targets(one)) for one in (own, other)]
    return 1200.0 * log2(lowest[1] / lowest[0])


def _reached(request: AdviceRequest, sounding: Sounding) -> Becomes | None:
    aims = tuple(Aim(t.fingering, t.frequency) for t in _targets(sounding) if not t.cross)
    try:
        return _looked_at(request.aimed(aims))
    except InvalidInput:
        return None


# A page that is looked at again asks for the same.
@lru_cache(maxsize=128)
def _looked_at(request: AdviceRequest) -> Becomes:
    return becomes(request)


def move(session: Session, who: Who, blank_id: int, asked: Move) -> Blank:
    """Make the blank what it can still become: a pattern of its own, in the order that it now serves.

    Raises NotAllowed, NotFound, Refused, Invalid.
    """
    who.must_work()
    blank = lock(session, blank_id)
    shop = find(session, Shop, 1, "shop")
    wanted = (asked.flute_id, asked.pattern_id)
    chance = next(
        (c for c in chances(session, shop, blank) if (c.flute.id if c.flute else None, c.pattern_id) == wanted), None
    )
    if chance is None or not chance.becomes.possible:
        raise Refused(f"{blank.serial} can no longer become that: look again at what is possible.")
    if chance.waits:
        raise Refused("That order is not confirmed yet: confirm it, then move the blank there.")
    sounding = chance.sounding
    said = f"{show_note(sounding.key)} {sounding.scale}, A4 at {sounding.a4:g} Hz"
    designed = importing.of_flute(session, chance.becomes.flute, sounding)
    plain = f"{blank.serial} as {show_note(sounding.key)} at {sounding.a4:g} Hz"
    name = patterns.free_name(session, plain)
    revision = patterns.save_imported(session, who, sounding, name, f"What {blank.serial} could still become", designed)
    if before := order_of(session, blank):
        words = f"{blank.serial} becomes {said}: its flute of this order needs a new blank"
        diary.write(session, who, "order", before.id, words, asked.why)
    assert revision.id is not None
    blank.revision_id, blank.key = revision.id, sounding.key
    blank.ordered_flute_id = blank.due_on = None
    if chance.flute is not None and chance.order is not None:
        _serve(session, who, blank, chance.flute.id or 0, revision, asked.why)
    session.add(blank)
    diary.write(session, who, "blank", blank.id, f"Becomes {said}", asked.why)
    pattern = find(session, Pattern, revision.pattern_id, "pattern")
    new_sizes(session, blank, pattern, revision, chance.becomes.flute)
    session.flush()
    return blank


def _serve(session: Session, who: Who, blank: Blank, flute_id: int, revision: PatternRevision, why: str) -> None:
    flute = find(session, OrderedFlute, flute_id, "ordered flute")
    order = find(session, Order, flute.order_id, "order", lock=True)
    if order.status not in TAKEN or flutes.blanks_of(session, flute):
        raise Refused(f"Order {order.number} has changed meanwhile: look again at what is possible.")
    blank.ordered_flute_id, blank.due_on = flute.id, order.due_on
    flute.revision_id = revision.id
    session.add(flute)
    diary.write(session, who, "order", order.id, f"Blank {blank.serial} is made for it now", why)
    if order.status is OrderStatus.CONFIRMED:
        order.status = OrderStatus.IN_THE_SHOP
    session.add(order)
    orders.changed(session, order)
