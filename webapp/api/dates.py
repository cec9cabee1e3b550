"""Promised dates: what the queue says, what was promised, how it held; people's hours and closed days."""

from dataclasses import asdict
from typing import Any

from webapp import job_kinds
from webapp.api.problems import Problem
from webapp.api.ways import Answer, Call, Way, row, rows
from webapp.jobs import claims
from webapp.models import ForecastKind
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import rules as orders
from webapp.shop.people.tokens import Scope
from webapp.shop.scheduling import forecasts, promise, working_days
from webapp.shop.scheduling.promise import AcceptDate, Dates
from webapp.shop.scheduling.queue_dates import MOST_NEW
from webapp.shop.scheduling.working_days import DayOffAsked, WeekAsked


def now(call: Call) -> Answer:
    count = call.query_id("flutes") or 1
    if count > MOST_NEW:
        raise Problem("invalid", f"Dates are kept for up to {MOST_NEW} flutes.", {"flutes": f"At most {MOST_NEW}."})
    back = promise.looked_back(call.session)
    return Answer(
        {
            "dates": shown_dates(promise.for_new(call.session, count)),
            "orders": [
                {"order": number} | (shown_dates(found) or {})
                for number, found in promise.every_order(call.session).items()
            ],
            "looked_back": {name: back[name] for name in ("safe_held", "likely_held")} | {"orders": len(back["orders"])}
            if back
            else None,
            "late_foreseen": [
                {"order": one.number, "likely": plain(one.likely), "on_time": one.on_time}
                for one in promise.foreseen_late(call.session).values()
            ],
            **_run(call),
        }
    )


def estimate(call: Call) -> Answer:
    """Have the dates estimated again where the last ones are of another queue; `under_way` says so."""
    for kind in (ForecastKind.QUEUE, ForecastKind.PAST):
        if forecasts.wanted(call.session, kind):
            run = forecasts.start(call.session, kind)
            if run is not None and run.id is not None:
                call.session.commit()  # the process that calculates it must find it
                call.around.queue.enqueue(job_kinds.FORECAST, run.id)
    return Answer(_run(call))


def of_order(call: Call) -> Answer:
    order = orders.order_of(call.session, call.number("number"))
    last = promise.last(call.session, order)
    return Answer(
        {"dates": shown_dates(promise.of_order(call.session, order)), "promised": row(last) if last else None},
        order.version,
    )


def promise_date(call: Call) -> Answer:
    made = promise.accept(call.session, call.who, call.number("number"), call.asked(AcceptDate))
    return Answer(row(made), location=f"/api/v1/orders/{call.number('number')}/promise")


def hours(call: Call) -> Answer:
    weeks = [
        {
            "person_id": week.person.id,
            "name": week.person.name,
            "assumed": week.assumed,
            **dict(zip(working_days.WEEKDAYS, week.hours, strict=True)),
        }
        for week in working_days.weeks(call.session)
    ]
    return Answer({"items": weeks, "closed": rows(working_days.days_off(call.session))})


def set_hours(call: Call) -> Answer:
    asked = call.asked(WeekAsked)
    working_days.set_week(call.session, call.who, call.number("person"), asked)
    return Answer({"person_id": call.number("person"), **asked.model_dump()})


def close(call: Call) -> Answer:
    made = working_days.close(call.session, call.who, call.asked(DayOffAsked))
    return Answer(row(made), location="/api/v1/hours")


def open_again(call: Call) -> Answer:
    working_days.open_again(call.session, call.who, call.number("closed"))
    return hours(call)


def shown_dates(found: Dates | None) -> dict[str, Any] | None:
    """Dates as JSON; None before they were reckoned."""
    if found is None:
        return None
    said: dict[str, Any] = {name: plain(value) for name, value in asdict(found).items() if name != "help"}
    said["help"] = [{"what": one.kind, "words": one.words, "days": one.days, "give": one.give} for one in found.help]
    return said


def _run(call: Call) -> dict[str, Any]:
    run = forecasts.latest(call.session, ForecastKind.QUEUE)
    known = forecasts.latest(call.session, ForecastKind.QUEUE, finished=True)
    return {
        "under_way": claims.under_way(run),
        "out_of_date": forecasts.wanted(call.session, ForecastKind.QUEUE),
        "reckoned_at": known.result["at"] if known and known.result else None,
    }


_ORDER = "/orders/{number:int}/promise"
_PAGE = "/orders/{number}/promise"
O = Scope.OFFICE  # noqa: E741
WAYS = [
    Way(
        "GET",
        "/promise",
        "When an order taken now would be ready, when the open ones will be, which will be late",
        now,
        shows="dates",
        query={"flutes": "how many"},
        does=("/promise", "/promise/offer"),
    ),
    Way(
        "POST",
        "/promise/reckon",
        "Reckon the dates anew where the queue has changed",
        estimate,
        O,
        shows="dates",
        does=("/orders/{number}/promise",),
    ),
    Way(
        "GET",
        _ORDER,
        "Earliest, likely and safe day, what would help, what was promised",
        of_order,
        shows="dates",
        does=(_PAGE,),
    ),
    Way("POST", _ORDER, "Promise a day", promise_date, O, AcceptDate, "promise", does=(_PAGE,)),
    Way("GET", "/hours", "Hours at the bench, closed days", hours, shows="hours", does=("/promise/hours",)),
    Way(
        "PUT",
        "/hours/{person:int}",
        "Set someone's hours at the bench",
        set_hours,
        O,
        WeekAsked,
        "hours",
        does=("/promise/hours/{person_id}",),
    ),
    Way(
        "POST",
        "/closed",
        "Close the shop, or note someone's days away",
        close,
        O,
        DayOffAsked,
        "day_off",
        does=("/promise/closed",),
    ),
    Way(
        "POST",
        "/closed/{closed:int}/open",
        "Open on such days after all",
        open_again,
        O,
        shows="hours",
        does=("/promise/closed/{day_off_id}/open",),
    ),
]
