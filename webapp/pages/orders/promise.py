"""When it will be ready: dates from the queue, what would help, what the shop promised, and the hours it works."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp import job_kinds
from webapp.jobs import claims
from webapp.models import ForecastKind, Order, Role
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid, Refused, Stale
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
        return desk.render("orders/promise/promise.html", "reckoned", **_reckoned(desk))
    return desk.render("orders/promise/promise.html", **_reckoned(desk))


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
    desk.who.must(Role.OWNER)
    form = desk.form()
    form.values = {
        name: value.replace(",", ".") if isinstance(value, str) else value for name, value in form.values.items()
    }
    try:
        working_days.set_week(desk.session, desk.who, person_id, form.read(WeekAsked))
    except Invalid as error:
        failed = form.failed(error)
        failed.id = f"p{person_id}"
        return _hours(desk, 422, {person_id: failed})
    return desk.go("/promise/hours?said=Saved.")


@router.post("/promise/closed")
def close(desk: Act) -> Response:
    desk.who.must(Role.OWNER, Role.OFFICE)
    form = desk.form()
    try:
        working_days.close(desk.session, desk.who, form.read(DayOffAsked))
    except Invalid as error:
        errors = {name or "last": words for name, words in error.errors.items()}
        return _hours(desk, 422, closing=form.failed(Invalid(errors)))
    return desk.go("/promise/hours#closed")


@router.post("/promise/closed/{day_off_id}/open")
def open_again(desk: Act, day_off_id: int) -> Response:
    working_days.open_again(desk.session, desk.who, day_off_id)
    return desk.go("/promise/hours#closed")


@router.get("/orders/{number}/promise")
def ask_date(desk: View, number: int) -> Response:
    refresh(desk)
    order = orders.order_of(desk.session, number)
    return _date(desk, order, fragment=desk.wants_fragment)


@router.post("/orders/{number}/promise")
def promise_date(desk: Act, number: int) -> Response:
    desk.who.must_work()
    order, form = orders.order_of(desk.session, number), desk.form()
    if form.values.get("kind") in ("likely", "safe"):
        form.values["due_on"] = form.values.get(f"{form.values['kind']}_on", "")
    try:
        promise.accept(desk.session, desk.who, number, form.read(AcceptDate))
    except Invalid as error:
        return _date(desk, order, 422, form.failed(error))
    except Stale:
        form.values["version"] = order.version
        words = "Someone else changed this order while you were looking. Nothing was promised yet."
        return _date(desk, order, 409, form.failed(Invalid({"": words})))
    except Refused as error:
        return _date(desk, order, 409, form.failed(Invalid({"": str(error)})))
    return desk.go(f"/orders/{number}")


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


def _reckoned(desk: Desk) -> dict[str, Any]:
    dates = promise.every_order(desk.session)
    rows, _ = order_list.listed(desk.session, "open", orders.today(desk.session))
    return _offered(desk) | {
        "rows": [(row, dates[row.order.number]) for row in rows if row.order.number in dates],
        "late": promise.foreseen_late(desk.session),
        "back": promise.looked_back(desk.session),
        "weeks": working_days.weeks(desk.session),
        "as_note": show_note,
    }


def _date(desk: Desk, order: Order, status: int = 200, form: Form | None = None, fragment: bool = False) -> Response:
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
    desk: Desk, status: int = 200, failed: dict[int, Form] | None = None, closing: Form | None = None
) -> Response:
    forms = {}
    for week in working_days.weeks(desk.session):
        assert week.person.id is not None
        form = Form({name: f"{hours:g}" for name, hours in zip(WEEKDAYS, week.hours, strict=True)})
        form.id = f"p{week.person.id}"
        forms[week.person.id] = (failed or {}).get(week.person.id, form)
    today = orders.today(desk.session)
    return desk.render(
        "orders/promise/hours.html",
        status=status,
        weeks=working_days.weeks(desk.session),
        forms=forms,
        days=WEEKDAYS,
        off=working_days.days_off(desk.session, today),
        names={week.person.id: week.person.name for week in working_days.weeks(desk.session)},
        closing=closing or Form(),
        today=today,
        is_owner=desk.who.role == "owner",
        may_close=desk.who.role in ("owner", "office"),
    )
