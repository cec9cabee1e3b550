"""Promised dates: the last forecast for an order or for a new one, what would help, what was promised."""

from dataclasses import dataclass, field
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, select

from webapp.models import ForecastKind, Order, OrderStatus, Promise, PromiseKind
from webapp.shop.base.errors import Invalid
from webapp.shop.orders import rules as orders
from webapp.shop.orders.forms import ChangeOrder
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.scheduling import forecasts, working_days
from webapp.shop.scheduling.hindsight import put_off
from webapp.shop.scheduling.queue_dates import MORE_HOURS, MOST_NEW
from webapp.shop.scheduling.working_days import OpenDays

IN_THE_QUEUE = (OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP)
WORTH_SAYING = 1.0  # days


class AcceptDate(BaseModel):
    """The date that is promised: the likely or the safe one as shown, or one of the shop's own."""

    kind: PromiseKind
    due_on: date | None = None
    why: Annotated[str, StringConstraints(max_length=500)] = ""
    version: Annotated[int, Field(ge=1)]


@dataclass(frozen=True, slots=True)
class Help:
    """Something that would bring it forward, by how many days (of the likely date), give or take so many: within that
    nineteen forecasts in twenty agree."""

    kind: Literal["clamps", "hours", "first"]
    words: str
    days: int
    give: int = 0


@dataclass(frozen=True, slots=True)
class Dates:
    """Earliest (1 in 20), likely (1 in 2) and safe (9 in 10)."""

    earliest: date | None
    likely: date | None
    safe: date | None
    on_time: float | None = None
    help: list[Help] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Late:
    """An order that will probably not be finished by its due date."""

    number: int
    likely: date | None
    on_time: float


def for_new(session: Session, count: int) -> Dates | None:
    """The dates of an order of so many flutes, taken now; None before the first forecast."""
    result = _result(session, ForecastKind.QUEUE)
    if result is None or not 1 <= count <= len(result["new"]):
        return None
    found = result["new"][count - 1]
    helps = {name: value["new"][count - 1] for name, value in result["help"].items() if len(value["new"]) >= count}
    return _dates(session, found, result, helps)


def of_order(session: Session, order: Order) -> Dates | None:
    """The dates of an open order; for one that is not confirmed yet, as if it were now. None: nothing is known."""
    if order.status not in IN_THE_QUEUE:
        if order.status in orders.BEFORE_THE_SHOP:
            return for_new(session, min(MOST_NEW, max(1, len(orders.flutes_of(session, order)))))
        return None
    result = _result(session, ForecastKind.QUEUE)
    found = result["orders"].get(str(order.number)) if result else None
    if result is None or found is None:
        return None
    named = {name: value.get(str(order.number)) for name, value in result["help"].items() if name != "first"}
    return _dates(session, found, result, {name: value for name, value in named.items() if value})


def every_order(session: Session) -> dict[int, Dates]:
    """The dates of all orders in the queue, by number."""
    result = _result(session, ForecastKind.QUEUE)
    if result is None:
        return {}
    calendar = working_days.open_days(session)
    return {int(number): _dates(session, found, result, {}, calendar) for number, found in result["orders"].items()}


def expected_late(session: Session) -> dict[int, Late]:
    """The orders that are more likely late than not by the last forecast; one look-up, however many there are."""
    result = _result(session, ForecastKind.QUEUE)
    if result is None:
        return {}
    return {
        int(number): Late(int(number), _day(found["likely"]), found["on_time"])
        for number, found in result["orders"].items()
        if found.get("on_time") is not None and found["on_time"] < 0.5
    }


def looked_back(session: Session) -> dict[str, Any] | None:
    """How the dates of the last orders would have held; None before that was calculated, or where there are none."""
    result = _result(session, ForecastKind.PAST)
    return result if result and result["orders"] else None


def last(session: Session, order: Order) -> Promise | None:
    """What was promised last for an order."""
    statement = select(Promise).where(Promise.order_id == order.id).order_by(col(Promise.id).desc()).limit(1)
    return session.exec(statement).first()


def accept(session: Session, who: Who, number: int, asked: AcceptDate) -> Promise:
    """Promise a date: it becomes the order's due date, and the forecast is kept with it.

    Raises NotAllowed, NotFound, Stale, Refused, Invalid.
    """
    order = orders.open_order(session, who, number, asked.version)
    dates = of_order(session, order)
    likely, safe = (dates.likely, dates.safe) if dates else (None, None)
    day = {PromiseKind.LIKELY: likely, PromiseKind.SAFE: safe, PromiseKind.OWN: asked.due_on}[asked.kind]
    if day is None and asked.kind is PromiseKind.OWN:
        raise Invalid({"due_on": "Write the date."})
    if day is None:
        raise Invalid({"kind": "No such date has been calculated: choose your own."})
    if asked.kind is PromiseKind.OWN and not (calendar := working_days.open_days(session)).is_open(day):
        then = _said(calendar.next_open(day))
        raise Invalid({"due_on": f"Nobody works on {_said(day)}. The next day on which somebody does is {then}."})
    if asked.kind is not PromiseKind.OWN and asked.due_on is not None and asked.due_on != day:
        raise Invalid(
            {"kind": f"The queue has changed meanwhile: the {asked.kind} date is {_said(day)} now. Choose again."}
        )
    assert order.id is not None
    words = in_words(asked.kind, day, dates)
    reason = asked.why or ("Promised from the queue" if order.due_on is not None else "")
    made = Promise(
        order_id=order.id,
        due_on=day,
        kind=asked.kind,
        earliest=dates.earliest if dates else None,
        likely=dates.likely if dates else None,
        safe=dates.safe if dates else None,
        words=words,
        by=who.id,
    )
    changed = ChangeOrder(due_on=day, version=asked.version, why=reason)
    session.add(made)
    diary.write(session, who, "order", order.id, f"Promised for {_said(day)}: {words}", asked.why)
    orders.change_order(session, who, number, changed)
    return made


def in_words(kind: PromiseKind, day: date, dates: Dates | None) -> str:
    """What the date rests on, in a sentence that can be told to a customer."""
    if dates is None or dates.likely is None or dates.safe is None:
        return "a date of the shop's own; nothing was calculated."
    if kind is PromiseKind.SAFE:
        return f"the safe date, kept nine times in ten; likely by {_said(dates.likely)}."
    if kind is PromiseKind.LIKELY:
        return f"the likely date, kept one time in two; safe by {_said(dates.safe)}."
    side = (
        "before the likely date"
        if day < dates.likely
        else "between likely and safe"
        if day < dates.safe
        else "on the safe side"
    )
    return f"a date of the shop's own, {side} (likely {_said(dates.likely)}, safe {_said(dates.safe)})."


def _result(session: Session, kind: ForecastKind) -> dict[str, Any] | None:
    run = forecasts.latest(session, kind, finished=True)
    return run.result if run else None


def _dates(
    session: Session,
    found: dict[str, Any],
    result: dict[str, Any],
    helps: dict[str, Any],
    calendar: OpenDays | None = None,
) -> Dates:
    """The dates as they are promised: none on a day when nobody works."""
    calendar = calendar or working_days.open_days(session)

    def open_day(day: date | None) -> date | None:
        return None if day is None else calendar.next_open(day)

    past = _result(session, ForecastKind.PAST)
    start = date.fromisoformat(result["at"][:10])
    likely = _day(found["likely"])
    safe = put_off(start, likely, _day(found["safe"]), past["ratios"] if past else [])
    return Dates(
        open_day(_day(found["earliest"])), open_day(likely), open_day(safe), found.get("on_time"), _helps(helps, result)
    )


def _helps(helps: dict[str, Any], result: dict[str, Any]) -> list[Help]:
    base = helps.get("none")
    if not base:
        return []
    words = {
        "clamps": f"Clamps for {result['more_places']} more",
        "hours": f"{MORE_HOURS:g} more hours a week at the bench",
        "first": "Making it before everything else",
    }
    found = []
    for kind, text in words.items():
        if kind in helps and (gain := base[0] - helps[kind][0]) >= WORTH_SAYING:
            give = round(2 * helps[kind][2]) if len(helps[kind]) > 2 else 0
            found.append(Help(kind, text, round(gain), give))  # type: ignore[arg-type]
    return sorted(found, key=lambda one: -one.days)


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _said(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b %Y}"
