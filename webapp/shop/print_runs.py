"""Batches of travelers: which blanks, how far the printing has come, and the finished file.

How far a run has come stands in the database, so that any process of the server can show it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated

from pydantic import BaseModel, Field
from sqlalchemy import and_, func
from sqlmodel import Session, col, delete, select

from webapp.models import Blank, BlankStatus, Customer, Order, OrderedFlute, PrintedFile, PrintRun, Repair, Stage, now
from webapp.shop.base.errors import Invalid, NotFound
from webapp.shop.base.finding import find
from webapp.shop.people.accounts import Who

MOST = 200
KEPT = timedelta(days=2)
SHOWN = 300


class PrintAsked(BaseModel):
    """The serials of the blanks whose travelers are wanted."""

    serials: list[Annotated[str, Field(max_length=20)]] = []


@dataclass(frozen=True, slots=True)
class Choice:
    """A blank that a traveler can be printed for."""

    blank: Blank
    order: Order | None
    customer: str


def choices(session: Session, stage: Stage | None = None, order_number: int | None = None) -> list[Choice]:
    """The blanks in work, of one stage or one order or all, those due first."""
    # A flute that came back is here for the order of its repair, not for the one that it was made for.
    repair = and_(col(Repair.blank_id) == Blank.id, col(Repair.begun_at).is_not(None), col(Repair.done_at).is_(None))
    statement = (
        select(Blank, Order, Customer)
        .join(OrderedFlute, col(OrderedFlute.id) == Blank.ordered_flute_id, isouter=True)
        .join(Repair, repair, isouter=True)
        .join(Order, col(Order.id) == func.coalesce(Repair.order_id, OrderedFlute.order_id), isouter=True)
        .join(Customer, col(Customer.id) == Order.customer_id, isouter=True)
        .where(Blank.status == BlankStatus.IN_WORK)
        .order_by(col(Blank.due_on).is_(None), col(Blank.due_on), col(Blank.id))
        .limit(SHOWN)
    )
    if stage is not None:
        statement = statement.where(Blank.stage == stage)
    if order_number is not None:
        statement = statement.where(Order.number == order_number)
    return [
        Choice(blank, order, customer.name if customer else "") for blank, order, customer in session.exec(statement)
    ]


def start(session: Session, who: Who, asked: PrintAsked, units: str, address: str) -> PrintRun:
    """Write down what is to be printed; the caller enqueues the run. Anyone who may look may print. Raises Invalid."""
    serials = list(dict.fromkeys(asked.serials))
    if not serials:
        raise Invalid({"serials": "Choose at least one blank."})
    if len(serials) > MOST:
        raise Invalid({"serials": f"At most {MOST} travelers go into one file."})
    known = set(session.exec(select(Blank.serial).where(col(Blank.serial).in_(serials))))
    if missing := [serial for serial in serials if serial not in known]:
        raise Invalid({"serials": f"There is no blank {missing[0]}."})
    old = select(PrintRun.id).where(PrintRun.started_at < now() - KEPT)
    session.exec(delete(PrintedFile).where(col(PrintedFile.run_id).in_(old)))
    session.exec(delete(PrintRun).where(col(PrintRun.id).in_(old)))
    run = PrintRun(serials=serials, units=units, address=address[:300], total=len(serials), started_by=who.id)
    session.add(run)
    session.flush()
    return run


def run_of(session: Session, run_id: int) -> PrintRun:
    """Raises NotFound."""
    return find(session, PrintRun, run_id, "print run")


def file_of(session: Session, run_id: int) -> bytes:
    """The finished file. Raises NotFound before it is."""
    find(session, PrintRun, run_id, "print run")
    file = session.get(PrintedFile, run_id)
    if file is None:
        raise NotFound("This file is not finished.")
    return file.pdf


def recent(session: Session, limit: int = 10) -> list[PrintRun]:
    """The runs started last."""
    return list(session.exec(select(PrintRun).order_by(col(PrintRun.id).desc()).limit(limit)))


def blanks_of(session: Session, run: PrintRun) -> Sequence[Blank]:
    """The run's blanks in the order they were asked for."""
    found = {blank.serial: blank for blank in session.exec(select(Blank).where(col(Blank.serial).in_(run.serials)))}
    return [found[serial] for serial in run.serials if serial in found]
