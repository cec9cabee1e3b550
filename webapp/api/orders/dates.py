"""Promised dates: what the queue says, what was promised, how it held; people's hours and closed days."""

from datetime import date
from typing import Annotated, Any

from fastapi import Query
from starlette.responses import Response

from webapp import job_kinds
from webapp.api.frame import ways
from webapp.api.frame.call import Call, Change, Look
from webapp.api.frame.fields import Id
from webapp.api.frame.problems import Problem
from webapp.api.frame.rows import Shown, listed, made, many, model_from, row, row_of, rows, said
from webapp.api.frame.ways import OFFICE, way
from webapp.jobs import claims
from webapp.models import DayOff, ForecastKind, Promise
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import rules as orders
from webapp.shop.scheduling import forecasts, promise, working_days
from webapp.shop.scheduling.promise import AcceptDate, Dates
from webapp.shop.scheduling.queue_dates import MOST_NEW
from webapp.shop.scheduling.working_days import DayOffAsked, WeekAsked


class HelpShown(Shown):
    """Something that would bring it forward, by how many days, give or take so many."""

    what: str
    words: str
    days: int
    give: int


DatesShown = model_from(Dates, "DatesShown", help=many(HelpShown))
OrderDates = model_from(Dates, "OrderDates", help=many(HelpShown), order=int)
HoursShown = made(
    "HoursShown",
    "Someone's hours at the bench, by weekday.",
    person_id=int,
    **dict.fromkeys(working_days.WEEKDAYS, float),
)
WeekShown = made("WeekShown", "The same, and whether they are assumed.", HoursShown, name=str, assumed=bool)


class RunShown(Shown):
    """How far the calculation is, whether the queue has changed since, and when the dates are from."""

    under_way: bool
    out_of_date: bool
    estimated_at: str | None


class HeldShown(Shown):
    """How the dates of the last orders would have held."""

    safe_held: float
    likely_held: float
    orders: int


class LateShown(Shown):
    """An order that will probably be late."""

    order: int
    likely: date | None
    on_time: float


QueueShown = made(
    "QueueShown",
    "The dates of an order taken now and of all that are open.",
    RunShown,
    dates=DatesShown | None,
    orders=many(OrderDates),
    looked_back=HeldShown | None,
    late_foreseen=many(LateShown),
)


PromiseShown = made(
    "PromiseShown",
    "The dates of one order, and what was promised last.",
    dates=DatesShown | None,
    promised=row_of(Promise) | None,
)


router = ways.router("dates")


@router.get(
    "/promise",
    **way(
        "When an order taken now would be ready, when the open ones will be, which will be late",
        "/promise",
        "/promise/offer",
        shows=QueueShown,
    ),
)
def now(call: Look, flutes: Annotated[Id, Query(description="how many")] = 1) -> Response:
    if flutes > MOST_NEW:
        raise Problem("invalid", f"Dates are kept for up to {MOST_NEW} flutes.", {"flutes": f"At most {MOST_NEW}."})
    back = promise.looked_back(call.session)
    return call.answer(
        {
            "dates": shown_dates(promise.for_new(call.session, flutes)),
            "orders": [
                {"order": number} | (shown_dates(found) or {})
                for number, found in promise.every_order(call.session).items()
            ],
            "looked_back": {name: back[name] for name in ("safe_held", "likely_held")} | {"orders": len(back["orders"])}
            if back
            else None,
            "late_foreseen": [
                {"order": one.number, "likely": plain(one.likely), "on_time": one.on_time}
                for one in promise.expected_late(call.session).values()
            ],
            **_run(call),
        }
    )


@router.post(
    "/promise/estimate",
    **way(
        "Calculate the dates again where the queue has changed",
        "/orders/{number}/promise",
        scope=OFFICE,
        shows=RunShown,
    ),
)
def estimate(call: Change) -> Response:
    """Have the dates estimated again where the last ones are of another queue; `under_way` says so."""
    for kind in (ForecastKind.QUEUE, ForecastKind.PAST):
        if forecasts.wanted(call.session, kind):
            run = forecasts.start(call.session, kind)
            if run is not None and run.id is not None:
                call.commit()  # the process that calculates it must find it
                call.around.queue.enqueue(job_kinds.FORECAST, run.id)
    return call.answer(_run(call))


@router.get(
    "/orders/{number:int}/promise",
    **way(
        "Earliest, likely and safe day, what would help, what was promised",
        "/orders/{number}/promise",
        shows=PromiseShown,
    ),
)
def of_order(call: Look, number: int) -> Response:
    order = orders.order_of(call.session, number)
    last = promise.last(call.session, order)
    return call.answer(
        {"dates": shown_dates(promise.of_order(call.session, order)), "promised": row(last) if last else None},
        order.version,
    )


@router.post(
    "/orders/{number:int}/promise",
    **way("Promise a day", "/orders/{number}/promise", scope=OFFICE, shows=row_of(Promise), status=201),
)
def promise_date(call: Change, number: int, asked: AcceptDate) -> Response:
    made = promise.accept(call.session, call.who, number, asked)
    return call.answer(row(made), location=f"/api/v1/orders/{number}/promise")


@router.get(
    "/hours",
    **way("Hours at the bench, closed days", "/promise/hours", shows=listed(WeekShown, closed=many(row_of(DayOff)))),
)
def hours(call: Look) -> Response:
    weeks = [
        {
            "person_id": week.person.id,
            "name": week.person.name,
            "assumed": week.assumed,
            **dict(zip(working_days.WEEKDAYS, week.hours, strict=True)),
        }
        for week in working_days.weeks(call.session)
    ]
    return call.answer({"items": weeks, "closed": rows(working_days.days_off(call.session))})


@router.put(
    "/hours/{person:int}",
    **way("Set someone's hours at the bench", "/promise/hours/{person_id}", scope=OFFICE, shows=HoursShown),
)
def set_hours(call: Change, person: int, asked: WeekAsked) -> Response:
    working_days.set_week(call.session, call.who, person, asked)
    return call.answer({"person_id": person, **asked.model_dump()})


@router.post(
    "/closed",
    **way(
        "Close the shop, or note someone's days away", "/promise/closed", scope=OFFICE, shows=row_of(DayOff), status=201
    ),
)
def close(call: Change, asked: DayOffAsked) -> Response:
    made = working_days.close(call.session, call.who, asked)
    return call.answer(row(made), location="/api/v1/hours")


@router.post(
    "/closed/{closed:int}/open",
    **way(
        "Open on such days after all",
        "/promise/closed/{day_off_id}/open",
        scope=OFFICE,
        shows=listed(WeekShown, closed=many(row_of(DayOff))),
    ),
)
def open_again(call: Change, closed: int) -> Response:
    working_days.open_again(call.session, call.who, closed)
    return hours(call)


def shown_dates(found: Dates | None) -> dict[str, Any] | None:
    """Dates as JSON; None before they were calculated."""
    if found is None:
        return None
    helps = [{"what": one.kind, "words": one.words, "days": one.days, "give": one.give} for one in found.help]
    return {**said(found), "help": helps}


def _run(call: Call) -> dict[str, Any]:
    run = forecasts.latest(call.session, ForecastKind.QUEUE)
    known = forecasts.latest(call.session, ForecastKind.QUEUE, finished=True)
    return {
        "under_way": claims.under_way(run),
        "out_of_date": forecasts.wanted(call.session, ForecastKind.QUEUE),
        "estimated_at": known.result["at"] if known and known.result else None,
    }
