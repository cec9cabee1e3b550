"""When it will be ready: dates from the queue, what would help, what the shop promised, and the hours it works."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp import job_kinds
from webapp.jobs import claims
from webapp.models import ForecastKind
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.finding import as_id
from webapp.shop.orders import customers, lists as order_list, rules as orders
from webapp.shop.scheduling import forecasts, promise, working_days
from webapp.shop.scheduling.promise import AcceptDate
from webapp.shop.scheduling.queue_dates import MOST_NEW
from webapp.shop.scheduling.working_days import WEEKDAYS, DayOffAsked, WeekAsked
from webapp.shop.units.keys import show_note

router = APIRouter()


@router.get("/promise")
def show(desk: View) -> Response:
    refresh(desk)
    if desk.wants_fragment:
        return desk.render("orders/promise/promise.html", "forecast", **_forecast(desk))
    return desk.render("orders/promise/promise.html", **_forecast(desk))


@router.get("/promise/offer")
def offer(desk: View) -> Response:
    """The dates of an order of so many flutes, for the page on which one is taken."""
    refresh(desk)
    return desk.render("orders/promise/_offer.html", "offer", **_offered(desk))


@router.get("/promise/hours")
def ask_hours(desk: View) -> Response:
    return _hours(desk)


@router.post("/promise/hours/{person_id}")
def set_hours(desk: Act, person_id: int) -> Response:
    def rule(form: Form) -> None:
        with_points = {name: str(form.values.get(name, "")).replace(",", ".") for name in WEEKDAYS}
        working_days.set_week(desk.session, desk.who, person_id, Form(with_points).read(WeekAsked))

    return desk.submit(
        rule,
        again=lambda form, status: _hours(desk, status, typed=(person_id, form)),
        to="/promise/hours?said=Saved.",
    )


@router.post("/promise/closed")
def close(desk: Act) -> Response:
    def again(form: Form, status: int) -> Response:
        # What is wrong with both days together stands at the last one.
        form.errors = {name or "last": words for name, words in form.errors.items()}
        return _hours(desk, status, closing=form)

    return desk.submit(
        lambda form: working_days.close(desk.session, desk.who, form.read(DayOffAsked)),
        again,
        to="/promise/hours#closed",
    )


@router.post("/promise/closed/{day_off_id}/open")
def open_again(desk: Act, day_off_id: int) -> Response:
    return desk.submit(
        lambda form: working_days.open_again(desk.session, desk.who, day_off_id),
        again=lambda form, status: _hours(desk, status, closing=form),
        to="/promise/hours#closed",
    )


@router.get("/orders/{number}/promise")
def ask_date(desk: View, number: int) -> Response:
    refresh(desk)
    return _date(desk, number, fragment=desk.wants_fragment)


@router.post("/orders/{number}/promise")
def promise_date(desk: Act, number: int) -> Response:
    def rule(form: Form) -> None:
        if form.values.get("kind") in ("likely", "safe"):
            form.values["due_on"] = form.values.get(f"{form.values['kind']}_on", "")
        promise.accept(desk.session, desk.who, number, form.read(AcceptDate))

    return desk.submit(
        rule,
        again=lambda form, status: _date(desk, number, status, form),
        to=f"/orders/{number}",
    )


def refresh(desk: Desk) -> None:
    """Have the dates estimated again, in the background, where the last ones are of another queue."""
    app = desk.request.app
    for kind in (ForecastKind.QUEUE, ForecastKind.PAST):
        if not forecasts.wanted(desk.session, kind):
            continue
        with app.state.database.write() as writing:
            run = forecasts.start(writing, kind)
        if run is not None and run.id is not None:
            app.state.queue.enqueue(job_kinds.FORECAST, run.id)
    # What was written meanwhile is to be seen by what this page asks next.
    desk.session.rollback()


def _run(desk: Desk) -> dict[str, Any]:
    run = forecasts.latest(desk.session, ForecastKind.QUEUE)
    known = forecasts.latest(desk.session, ForecastKind.QUEUE, finished=True)
    return {
        "run": run,
        "under_way": claims.under_way(run),
        "known": known,
        "result": known.result if known else None,
        "back_under_way": claims.under_way(forecasts.latest(desk.session, ForecastKind.PAST)),
    }


def _offered(desk: Desk) -> dict[str, Any]:
    typed = as_id(desk.request.query_params.get("count", "1")) or 1
    count = min(typed, MOST_NEW)
    dates = promise.for_new(desk.session, count)
    return {"count": count, "too_many": typed > MOST_NEW, "dates": dates, "most": MOST_NEW} | _run(desk)


def _forecast(desk: Desk) -> dict[str, Any]:
    dates = promise.every_order(desk.session)
    rows, _ = order_list.listed(desk.session, "open", orders.today(desk.session))
    return _offered(desk) | {
        "rows": [(row, dates[row.order.number]) for row in rows if row.order.number in dates],
        "late": promise.expected_late(desk.session),
        "back": promise.looked_back(desk.session),
        "weeks": working_days.weeks(desk.session),
        "as_note": show_note,
    }


def _date(desk: Desk, number: int, status: int = 200, form: Form | None = None, fragment: bool = False) -> Response:
    order = orders.order_of(desk.session, number)
    dates = promise.of_order(desk.session, order)
    values = {"kind": "safe" if dates and dates.safe else "own", "version": order.version}
    values["due_on"] = order.due_on.isoformat() if order.due_on else ""
    return desk.render(
        "orders/promise/order.html",
        "dates" if fragment else None,
        status=status,
        order=order,
        customer=customers.customer(desk.session, order.customer_id),
        dates=dates,
        last=promise.last(desk.session, order),
        may_promise=order.status in orders.OPEN and order.status != "ready" and desk.who.role != "viewer",
        form=form or Form(values),
        back=promise.looked_back(desk.session),
        **_run(desk),
    )


def _hours(
    desk: Desk, status: int = 200, typed: tuple[int, Form] | None = None, closing: Form | None = None
) -> Response:
    """Everyone's week and the closed days; `typed` (whose week, the form) and `closing` are forms that were refused."""
    weeks = working_days.weeks(desk.session)
    forms = {
        week.person.id: Form({name: f"{hours:g}" for name, hours in zip(WEEKDAYS, week.hours, strict=True)})
        for week in weeks
    } | dict([typed] if typed else [])
    for person_id, form in forms.items():
        form.id = f"p{person_id}"
    today = orders.today(desk.session)
    return desk.render(
        "orders/promise/hours.html",
        status=status,
        weeks=weeks,
        forms=forms,
        days=WEEKDAYS,
        off=working_days.days_off(desk.session, today),
        names={week.person.id: week.person.name for week in weeks},
        closing=closing or Form(),
        today=today,
        is_owner=desk.who.role == "owner",
        may_close=desk.who.role in ("owner", "office"),
    )
