"""Single flutes of an order: changed, left out, given a pattern. Each change is recorded in words."""

from decimal import Decimal

from sqlmodel import Session, col, select

from acoustics.notes.music import parse_note
from webapp.models import (
    Blank,
    BlankStatus,
    ChosenOption,
    Order,
    OrderedFlute,
    OrderStatus,
    Pattern,
    PatternRevision,
    Species,
    Units,
)
from webapp.shop.base.errors import Invalid, NotFound, Refused
from webapp.shop.base.finding import find
from webapp.shop.orders import changes as order_changes, repair_state, rules as orders
from webapp.shop.orders.checks import wrong_extras
from webapp.shop.orders.forms import ChangeFlute
from webapp.shop.people import amounts, diary
from webapp.shop.people.accounts import Who
from webapp.shop.units.keys import show_note
from webapp.shop.units.lengths import show_length

SOUNDING = ("key", "scale", "holes", "a4", "temperament")
_WORDS = {
    "key": "key",
    "scale": "scale",
    "holes": "finger holes",
    "a4": "A4",
    "temperament": "temperament",
    "species_id": "wood",
    "reach": "reach",
    "extras": "extras",
    "price": "price",
    "extras_price": "price of the extras",
}
AMOUNTS = ("price", "extras_price")
CENT = Decimal("0.01")
_NO_LONGER_A_BLANK = (BlankStatus.FIREWOOD,)


def flute_of(session: Session, order: Order, flute_id: int) -> OrderedFlute:
    """A flute of this order. Raises NotFound."""
    flute = find(session, OrderedFlute, flute_id, "ordered flute")
    if flute.order_id != order.id:
        raise NotFound(f"Order {order.number} has no flute {flute_id}.")
    return flute


def as_typed(flute: OrderedFlute, units: Units) -> dict[str, str]:
    """A flute as its form's fields, which give back the same flute when they are sent again."""
    return {
        "key": flute.key,
        "scale": flute.scale,
        "holes": str(flute.holes),
        "a4": f"{flute.a4:.10g}",
        "temperament": flute.temperament,
        "species_id": str(flute.species_id),
        "reach": "" if flute.reach is None else show_length(flute.reach, units, exact=True),
        "extras": flute.extras,
        "price": f"{flute.price}" if flute.price else "",
        "extras_price": "" if flute.extras_price is None else f"{flute.extras_price}",
    }


def as_seen(flute: OrderedFlute, who: Who) -> dict[str, str]:
    """The same without what this person does not see."""
    return amounts.visible(who.role, "ordered_flute", as_typed(flute, who.units))


def change_flute(session: Session, who: Who, number: int, flute_id: int, asked: ChangeFlute) -> OrderedFlute:
    """Change what is asked of a flute. What it sounds and its wood stay as they are once a blank is open for it.

    Raises NotAllowed, NotFound, Stale, Refused, Invalid.
    """
    amounts.check_asked(who, asked, "ordered_flute")
    order = orders.open_order(
        session, who, number, asked.version, lambda order: as_seen(flute_of(session, order, flute_id), who)
    )
    flute = flute_of(session, order, flute_id)
    if not amounts.changes(who.role, "ordered_flute.price"):
        # Other extras than those that were priced have to be priced again, by someone who may.
        still = flute.extras_price if asked.extras == flute.extras else None
        asked = asked.model_copy(update={"price": flute.price, "extras_price": still})
    wanted = asked.model_dump(exclude={"version", "why"}) | {
        "price": (asked.price or Decimal(0)).quantize(CENT),
        "extras_price": asked.extras_price.quantize(CENT) if asked.extras and asked.extras_price is not None else None,
    }
    changed = [name for name, value in wanted.items() if getattr(flute, name) != value]
    _check(session, who, order, flute, asked, changed)
    if changed:
        order_changes.must_say_why(order, asked.why)
    for name in changed:
        was, is_now = (_said(session, who, name, value) for value in (getattr(flute, name), wanted[name]))
        what = f"Flute {flute.position}, {_WORDS[name]}"
        words = f"{what}: was {was}, is now {is_now}"
        diary.write(session, who, "order", order.id, words, asked.why, about_money=name in AMOUNTS)
        order_changes.write(session, who, order, what, was, is_now, asked.why)
        if name == "price":
            flute.built_up, flute.price_why = None, ""
        setattr(flute, name, wanted[name])
    _follow_pattern(session, who, order, flute)
    session.add(flute)
    if changed:
        orders.changed(session, order)
    return flute


def leave_out(session: Session, who: Who, number: int, flute_id: int, version: int, why: str = "") -> None:
    """Take a flute off the order, while no blank is open for it.

    Raises NotAllowed, NotFound, Stale, Refused, Invalid.
    """
    order = orders.open_order(session, who, number, version)
    flute = flute_of(session, order, flute_id)
    if len(orders.flutes_of(session, order)) == 1 and not repair_state.of_order(session, order):
        raise Refused("This is the order's only flute: withdraw the order instead.")
    if session.exec(select(Blank.id).where(Blank.ordered_flute_id == flute.id)).first():
        raise Refused("Blanks have been opened for this flute, so it cannot be left out.")
    order_changes.must_say_why(order, why)
    what = f"flute {flute.position} in {flute.key} {flute.scale}"
    diary.write(session, who, "order", order.id, f"Left out: {what}", why)
    order_changes.write(session, who, order, "Left out", what, "", why)
    for option in session.exec(select(ChosenOption).where(ChosenOption.ordered_flute_id == flute.id)):
        session.delete(option)
    session.flush()
    session.delete(flute)
    session.flush()
    assert order.id is not None
    orders.mark_ready_if_done(session, order.id)
    orders.changed(session, order)


def choose_pattern(
    session: Session, who: Who, number: int, flute_id: int, revision_id: int, version: int
) -> OrderedFlute:
    """Build this flute from this revision of a pattern. Raises NotAllowed, NotFound, Stale, Refused."""
    order = orders.open_order(session, who, number, version)
    flute = flute_of(session, order, flute_id)
    revision = find(session, PatternRevision, revision_id, "revision")
    pattern = find(session, Pattern, revision.pattern_id, "pattern")
    if not fits(pattern, flute):
        raise Refused(f"{pattern.name} is not what this flute asks for: {_what(flute)}.")
    if flute.revision_id != revision_id and blanks_of(session, flute):
        raise Refused("Blanks of another pattern are open for this flute: give them up first.")
    flute.revision_id, flute.dropped_revision_id = revision_id, None
    session.add(flute)
    what = f"Flute {flute.position}: to be built from {pattern.name}, revision {revision.number}"
    diary.write(session, who, "order", order.id, what)
    orders.changed(session, order)
    return flute


def fits(pattern: Pattern, flute: OrderedFlute) -> bool:
    """Whether a pattern sounds what the flute should sound."""
    same = all(getattr(pattern, name) == getattr(flute, name) for name in ("scale", "holes", "temperament"))
    return same and abs(pattern.a4 - flute.a4) < 0.05 and parse_note(pattern.key) == parse_note(flute.key)


def blanks_of(session: Session, flute: OrderedFlute) -> list[Blank]:
    """The flute's blanks that did not end as firewood."""
    statement = select(Blank).where(Blank.ordered_flute_id == flute.id)
    return list(session.exec(statement.where(col(Blank.status).not_in(_NO_LONGER_A_BLANK)).order_by(col(Blank.id))))


def _check(
    session: Session, who: Who, order: Order, flute: OrderedFlute, asked: ChangeFlute, changed: list[str]
) -> None:
    wrong = {}
    if session.get(Species, asked.species_id) is None:
        wrong["species_id"] = "Choose one of the list."
    if order.status is not OrderStatus.ENQUIRY and not asked.price:
        wrong["price"] = "Write the price: only an enquiry can go without one."
    if amounts.changes(who.role, "ordered_flute.extras_price"):
        wrong |= wrong_extras(asked, order.status)
    built_in = [name for name in changed if name in (*SOUNDING, "species_id")]
    if built_in and (open_ones := blanks_of(session, flute)):
        serials = ", ".join(blank.serial for blank in open_ones)
        for name in built_in:
            wrong[name] = f"Blanks are open for this flute ({serials}): its {_WORDS[name]} can no longer change."
    if wrong:
        raise Invalid(wrong)


def _follow_pattern(session: Session, who: Who, order: Order, flute: OrderedFlute) -> None:
    """A pattern that no longer fits is dropped, and comes back where the flute is again what it was."""
    if flute.revision_id and not _pattern_fits(session, flute, flute.revision_id):
        flute.revision_id, flute.dropped_revision_id = None, flute.revision_id
        what = f"Flute {flute.position}: its pattern no longer fits and was removed"
        diary.write(session, who, "order", order.id, what)
        return
    dropped = flute.dropped_revision_id
    if not flute.revision_id and dropped and _pattern_fits(session, flute, dropped):
        flute.revision_id, flute.dropped_revision_id = dropped, None
        diary.write(session, who, "order", order.id, f"Flute {flute.position}: its pattern fits again and is back")


def _pattern_fits(session: Session, flute: OrderedFlute, revision_id: int) -> bool:
    revision = session.get(PatternRevision, revision_id)
    pattern = session.get(Pattern, revision.pattern_id) if revision else None
    return pattern is not None and fits(pattern, flute)


def _said(session: Session, who: Who, name: str, value: object) -> str:
    """What a field of a flute says, in words."""
    if value is None or value == "":
        return "nothing"
    if name == "species_id":
        species = session.get(Species, value)
        return species.name if species else "unknown"
    if name == "reach" and isinstance(value, float):
        return show_length(value, who.units)
    if name == "a4":
        return f"{value:g} Hz"
    text = show_note(str(value)) if name == "key" else str(value)
    return text if len(text) <= 110 else text[:109] + "\N{HORIZONTAL ELLIPSIS}"


def _what(flute: OrderedFlute) -> str:
    return f"{flute.key} {flute.scale}, {flute.holes} holes, A4 at {flute.a4:g} Hz, {flute.temperament}"
