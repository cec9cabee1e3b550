"""Quote, order confirmation and packing slip: what stands on them, and the jobs for the press."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from sqlalchemy import ColumnElement, false, or_
from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    BlankStatus,
    Customer,
    IssuedKind,
    IssuedPaper,
    Order,
    OrderedFlute,
    Paper,
    Pattern,
    PatternRevision,
    Repair,
    Shop,
    Species,
)
from webapp.paper.press import measures
from webapp.paper.press.jobs import Job
from webapp.paper.press.sheets import job
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import find
from webapp.shop.orders import checks as order_checks, issued, prices
from webapp.shop.orders.price_customs import customs
from webapp.shop.parcels import rules as parcels
from webapp.shop.units.keys import show_note

ORIGIN = (
    "Made by {shop}. Where its form follows an older tradition it is made in the style of that tradition, and no "
    "other origin is claimed for it."
)
ELSEWHERE = (
    "What was repaired and not made here is the work of another maker: {shop} claims nothing of where it comes from."
)
RESTRICTED = (
    "Contains {woods}. Trade in this wood may be restricted, as a finished instrument too and above all across "
    "borders: ask the authority of your country before it is sold, sent or taken abroad."
)
UNTAXED = {"exempt": "the customer is exempt", "resale": "for resale", "export": "export"}
DENSITIES = ("", "close")
SIDE = 19.0  # mm of margin at either side, as letter.css has it


def paper_size(session: Session) -> Paper:
    return find(session, Shop, 1, "shop").paper


def letter_job(paper: IssuedPaper, size: Paper) -> Job:
    """A quote or a confirmation as it was given out."""
    return _letter(paper.content, size, str(paper.kind), paper.number, paper)


def draft_job(session: Session, order: Order) -> Job:
    """How a quote would read now; it says that it is none."""
    content = issued.content_of(session, order)
    return _letter(content, paper_size(session), "quote", 0, None, order_checks.today(session).isoformat())


def _letter(
    content: dict[str, Any], size: Paper, kind: str, number: int, paper: IssuedPaper | None, day: str = ""
) -> Job:
    currency = content["currency"]
    common: dict[str, object] = {
        "c": content,
        "paper": size,
        "kind": kind[:1].upper() + kind[1:],
        "number": number,
        "draft": paper is None,
        "confirms": paper is not None and paper.kind is IssuedKind.CONFIRMATION,
        "day": measures.day(paper.issued_on) if paper else measures.day(issued.day(day)),
        "valid": measures.named_day(paper.valid_until) if paper else "",
        "due": measures.named_day(issued.day(content["due_on"])),
        "paid": Decimal(content.get("paid", "0")),
        "money": lambda text: prices.money(Decimal(text), currency),
        "postage": Decimal(content["postage"]),
        "taxed": Decimal(content["tax_percent"]),
        "percent": prices.percentage(Decimal(content["tax_percent"])),
        "untaxed": UNTAXED.get(content.get("tax_status", "taxed"), ""),
        "relief": Decimal(content.get("tax_relief", "0")),
        "deposit": Decimal(content["deposit"]),
        "as_note": show_note,
        **_wording(
            content["shop"], content["restricted"], content.get("made_here", True), content.get("elsewhere", False)
        ),
    }
    return job("letter.html", "letter.css", [{**common, "density": density} for density in DENSITIES], 1)


@dataclass(frozen=True, slots=True)
class Packed:
    """One thing in the parcel."""

    what: str
    serial: str
    details: str


@dataclass(frozen=True, slots=True)
class Slip:
    """Everything on a packing slip."""

    shop: str
    letterhead: str
    is_demo: bool
    paper: Paper
    order: int
    customer: str
    address: str
    contact: str
    day: str
    packed: tuple[Packed, ...]
    restricted: tuple[str, ...]
    carried: str = ""
    gift_words: str = ""
    made_here: bool = True
    elsewhere: bool = False


def packing_slip(session: Session, order: Order) -> Slip:
    """The flutes that leave, by their serials, without a price; of a gift without the customer's name or contact.

    Raises NotFound before any is finished.
    """
    shop = find(session, Shop, 1, "shop")
    customer = find(session, Customer, order.customer_id, "customer")
    parcel = parcels.of_order(session, order)
    name, address = parcels.to_whom(session, order)
    country = parcels.country_name(parcel.country)
    packed, woods = _new_flutes(session, order)
    repaired = _repaired(session, order)
    here, elsewhere = bool(packed) or any(one.serial for one in repaired), any(not one.serial for one in repaired)
    packed += repaired
    if not packed:
        raise NotFound(f"Nothing of order {order.number} is finished yet: there is nothing to pack.")
    handed = order.handed_over_at
    return Slip(
        shop=shop.name,
        letterhead=customs(session).pricing.letterhead,
        is_demo=shop.is_demo,
        paper=shop.paper,
        order=order.number,
        customer=name,
        address="\n".join(line for line in (address, country) if line),
        contact="" if parcel.is_gift or parcel.name else customer.contact,
        day=measures.day_of(handed, shop.timezone) if handed else measures.day(order_checks.today(session)),
        packed=tuple(packed),
        restricted=tuple(sorted(woods)),
        carried=" ".join(text for text in (parcel.carrier, parcel.tracking) if text),
        gift_words=parcel.gift_words,
        made_here=here,
        elsewhere=elsewhere,
    )


def slip_job(slip: Slip) -> Job:
    """A list to tick off while packing, and for the customer to find all of it."""
    context: dict[str, object] = {"s": slip, **_wording(slip.shop, slip.restricted, slip.made_here, slip.elsewhere)}
    return job("packing.html", "letter.css", [context])


def _came_back(order: Order) -> ColumnElement[bool]:
    """Flutes that were handed over with this order and are at the bench again for a repair: they were in its parcel."""
    if order.handed_over_at is None:
        return false()
    return select(Repair.id).where(Repair.blank_id == Blank.id, col(Repair.begun_at) > order.handed_over_at).exists()


def _new_flutes(session: Session, order: Order) -> tuple[list[Packed], set[str]]:
    rows = session.exec(
        select(OrderedFlute, Blank, Species, Pattern)
        .join(Blank, col(Blank.ordered_flute_id) == OrderedFlute.id)
        .join(Species, col(Species.id) == Blank.species_id)
        .join(PatternRevision, col(PatternRevision.id) == Blank.revision_id)
        .join(Pattern, col(Pattern.id) == PatternRevision.pattern_id)
        .where(OrderedFlute.order_id == order.id)
        .where(or_(col(Blank.status).in_((BlankStatus.FINISHED, BlankStatus.HANDED_OVER)), _came_back(order)))
        .order_by(col(OrderedFlute.position), col(Blank.id))
    ).all()
    found, taken, woods = [], set(), set()
    for flute, blank, species, pattern in rows:
        if flute.id in taken:
            continue  # a spare: it stays with the shop
        taken.add(flute.id)
        if species.restricted:
            woods.add(species.name)
        details = ", ".join(text for text in (species.name, f"A4 = {pattern.a4:g} Hz", flute.extras) if text)
        found.append(Packed(f"Flute in {show_note(flute.key)}, {flute.scale}", blank.serial, details))
    return found, woods


def _repaired(session: Session, order: Order) -> list[Packed]:
    found = []
    for repair in session.exec(select(Repair).where(Repair.order_id == order.id).order_by(col(Repair.position))):
        if repair.done_at is None:
            continue
        blank = session.get(Blank, repair.blank_id) if repair.blank_id else None
        what = f"Your flute, {repair.kind}" if blank else f"Your flute, {repair.kind}: {repair.described}"
        found.append(Packed(what, blank.serial if blank else "", repair.found or repair.asked))
    return found


def _wording(shop: str, woods: Sequence[str], made_here: bool, elsewhere: bool) -> dict[str, object]:
    """Who made what, and which woods are restricted."""
    said = RESTRICTED.format(woods=" and ".join(woods)) if woods else ""
    origin = [words.format(shop=shop) for words, holds in ((ORIGIN, made_here), (ELSEWHERE, elsewhere)) if holds]
    return {"origin": " ".join(origin), "restricted": said}
