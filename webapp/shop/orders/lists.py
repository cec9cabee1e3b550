"""Orders as screens show them: the list with its filters, and one order with its flutes and blanks."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum

from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    BlankStatus,
    Customer,
    Order,
    OrderedFlute,
    OrderStatus,
    Pattern,
    PatternRevision,
    Repair,
    Species,
    is_open,
)
from webapp.shop.orders import prices
from webapp.shop.orders.checks import BEFORE_THE_SHOP, OPEN, PROMISED
from webapp.shop.orders.money import lacks_extras_price, tax_of, usual_tax
from webapp.shop.orders.prices import Tax

PAGE = 100
DUE_SOON = 14  # days
DONE = (BlankStatus.FINISHED, BlankStatus.HANDED_OVER)


@dataclass(slots=True)
class Row:
    """One order in the list."""

    order: Order
    customer: Customer
    usual: Tax = field(default_factory=Tax)
    flutes: list[OrderedFlute] = field(default_factory=list)
    repairs: list[Repair] = field(default_factory=list)
    finished: int = 0

    @property
    def total(self) -> Decimal:
        """What the customer pays, with tax and postage; nothing before any price is agreed."""
        lines = [*(flute.amount for flute in self.flutes), *(repair.price for repair in self.repairs)]
        if not any(lines):
            return Decimal(0)
        tax = tax_of(self.order, self.usual)
        return prices.sums(lines, self.order.postage, tax, self.order.currency).total

    @property
    def pieces(self) -> int:
        return len(self.flutes) + len(self.repairs)

    @property
    def keys(self) -> str:
        """What is asked for in few words: 2 × A4, F#4, a repair."""
        counted: dict[str, int] = {}
        for flute in self.flutes:
            counted[flute.key] = counted.get(flute.key, 0) + 1
        for repair in self.repairs:
            counted[str(repair.kind)] = counted.get(str(repair.kind), 0) + 1
        return ", ".join(key if n == 1 else f"{n} \N{MULTIPLICATION SIGN} {key}" for key, n in counted.items())

    def late(self, today: date) -> bool:
        due = self.order.due_on
        return due is not None and due < today and self.order.status in PROMISED


@dataclass(frozen=True, slots=True)
class FluteRow:
    """One flute of an order, with its wood, its pattern and its blanks."""

    flute: OrderedFlute
    species: Species
    pattern: Pattern | None
    revision: PatternRevision | None
    blanks: list[Blank]

    @property
    def finished(self) -> bool:
        return any(blank.status in DONE for blank in self.blanks)

    @property
    def in_work(self) -> list[Blank]:
        return [blank for blank in self.blanks if blank.status is BlankStatus.IN_WORK]


@dataclass(frozen=True, slots=True)
class RepairRow:
    """One repair of an order, with its flute where that is one of ours."""

    repair: Repair
    blank: Blank | None

    @property
    def stands(self) -> str:
        """Its status, in a word or two."""
        if self.repair.done_at:
            return "done"
        if self.repair.begun_at is None:
            return "not begun"
        return f"at {self.blank.stage}" if self.blank else "at the bench"


def listed(
    session: Session,
    show: str,
    today: date,
    page: int = 1,
    customer_id: int | None = None,
    only: Collection[int] | None = None,
) -> tuple[list[Row], bool]:
    """A page of orders, and whether there are more. `show`: open, due, ready, all, or a status; `only`: these ids."""
    statement = select(Order, Customer).join(Customer, col(Customer.id) == Order.customer_id)
    due_first = (col(Order.due_on).is_(None), col(Order.due_on), col(Order.number))
    newest_first = (col(Order.number).desc(),)
    if show == "open":
        statement = statement.where(col(Order.status).in_(OPEN), is_open()).order_by(*due_first)
    elif show == "due":
        until = today + timedelta(days=DUE_SOON)
        soon = (col(Order.status).in_(PROMISED), is_open(), col(Order.due_on) <= until)
        statement = statement.where(*soon).order_by(*due_first)
    elif show in list(OrderStatus):
        order = due_first if OrderStatus(show) in OPEN else newest_first
        statement = statement.where(Order.status == OrderStatus(show)).order_by(*order)
    else:
        statement = statement.order_by(*newest_first)
    if only is not None:
        statement = statement.where(col(Order.id).in_(only))
    if customer_id is not None:
        statement = statement.where(Order.customer_id == customer_id)
    statement = statement.offset((page - 1) * PAGE).limit(PAGE + 1)
    usual = usual_tax(session)
    rows = [Row(order, customer, usual) for order, customer in session.exec(statement)]
    _fill(session, rows[:PAGE])
    return rows[:PAGE], len(rows) > PAGE


def flute_rows(session: Session, order: Order) -> list[FluteRow]:
    """The order's flutes with all that is shown of them, in three queries."""
    found = session.exec(
        select(OrderedFlute, Species, PatternRevision, Pattern)
        .join(Species, col(Species.id) == OrderedFlute.species_id)
        .join(PatternRevision, col(PatternRevision.id) == OrderedFlute.revision_id, isouter=True)
        .join(Pattern, col(Pattern.id) == PatternRevision.pattern_id, isouter=True)
        .where(OrderedFlute.order_id == order.id)
        .order_by(col(OrderedFlute.position), col(OrderedFlute.id))
    ).all()
    blanks: dict[int | None, list[Blank]] = {}
    flute_ids = [flute.id for flute, *_ in found]
    for blank in session.exec(select(Blank).where(col(Blank.ordered_flute_id).in_(flute_ids)).order_by(col(Blank.id))):
        blanks.setdefault(blank.ordered_flute_id, []).append(blank)
    return [
        FluteRow(flute, species, pattern, revision, blanks.get(flute.id, []))
        for flute, species, revision, pattern in found
    ]


def repair_rows(session: Session, order: Order) -> list[RepairRow]:
    """The order's repairs with their flutes, in one query."""
    found = session.exec(
        select(Repair, Blank)
        .join(Blank, col(Blank.id) == Repair.blank_id, isouter=True)
        .where(Repair.order_id == order.id)
        .order_by(col(Repair.position), col(Repair.id))
    )
    return [RepairRow(repair, blank) for repair, blank in found]


class Next(StrEnum):
    """What is to be done next for an order."""

    AGREE = "agree"
    QUOTE = "quote"
    CONFIRM = "confirm"
    PREPARE = "prepare"
    BUILD = "build"
    HAND_OVER = "hand over"


@dataclass(frozen=True, slots=True)
class NextStep:
    """The next thing to do for an order, and how a page says it."""

    what: Next
    words: str


def next_step(
    order: Order, rows: list[FluteRow], repairs: Sequence[RepairRow] = (), quote_again: bool = False
) -> NextStep | None:
    """The next thing to do for an order; None where nothing is left to do. `quote_again`: it is not as quoted."""
    if order.status in BEFORE_THE_SHOP:
        if not rows and not repairs:
            return NextStep(Next.AGREE, "Add the flute once its key and wood are known.")
        if any(row.flute.price <= 0 for row in rows):
            return NextStep(Next.AGREE, "Agree a price for each flute.")
        if any(lacks_extras_price(row.flute) for row in rows):
            return NextStep(Next.AGREE, "Agree a price for what is extra.")
        if order.due_on is None:
            return NextStep(Next.AGREE, "Agree a date.")
        if order.status is OrderStatus.ENQUIRY:
            return NextStep(Next.QUOTE, "Quote it, or confirm it.")
        if quote_again:
            return NextStep(Next.QUOTE, "Quote it again: it is no longer what was quoted.")
        return NextStep(Next.CONFIRM, "Confirm it once the customer agrees.")
    if order.status is OrderStatus.READY:
        return NextStep(Next.HAND_OVER, "Hand it over.")
    if order.status not in PROMISED:
        return None
    if waiting := [row for row in rows if row.revision is None]:
        return NextStep(Next.PREPARE, f"Choose a pattern for {_flutes(waiting)}.")
    if waiting := [row for row in rows if not row.finished and not row.in_work]:
        return NextStep(Next.PREPARE, f"Choose wood and open a blank for {_flutes(waiting)}.")
    if not_begun := [row for row in repairs if row.repair.begun_at is None]:
        row = not_begun[0]
        return NextStep(Next.PREPARE, f"Begin {row.repair.kind} {row.repair.position} once the flute is here.")
    at = [blank for row in rows if not row.finished for blank in row.in_work]
    at += [row.blank for row in repairs if row.blank and row.repair.done_at is None]
    if not at:
        return NextStep(Next.BUILD, "At the bench: write down what was found and done, once it is.")
    return NextStep(Next.BUILD, "At the bench: " + ", ".join(f"{blank.serial} at {blank.stage}" for blank in at) + ".")


def _flutes(rows: list[FluteRow]) -> str:
    numbers = [str(row.flute.position) for row in rows]
    return f"flute {numbers[0]}" if len(numbers) == 1 else f"flutes {', '.join(numbers[:-1])} and {numbers[-1]}"


def _fill(session: Session, rows: list[Row]) -> None:
    """Add the flutes, and how many are finished, to the rows: two queries for all of them."""
    by_id = {row.order.id: row for row in rows}
    of_flute: dict[int | None, Row] = {}
    flutes = select(OrderedFlute).where(col(OrderedFlute.order_id).in_(by_id)).order_by(col(OrderedFlute.position))
    for flute in session.exec(flutes):
        row = of_flute[flute.id] = by_id[flute.order_id]
        row.flutes.append(flute)
    for repair in session.exec(select(Repair).where(col(Repair.order_id).in_(by_id)).order_by(col(Repair.position))):
        by_id[repair.order_id].repairs.append(repair)
        by_id[repair.order_id].finished += repair.done_at is not None
    # The status is looked at here and not in the query: a database without statistics would go by it, over all
    # blanks that were ever finished.
    blanks = select(Blank.ordered_flute_id, Blank.status).where(col(Blank.ordered_flute_id).in_(of_flute))
    for flute_id in {flute_id for flute_id, status in session.exec(blanks) if status in DONE}:
        of_flute[flute_id].finished += 1
