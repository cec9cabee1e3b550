"""Dates: from hours and a queue to a promised day, on the pages where one looks for them."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from tests import blanks as made
from tests.jobs.at_once import AtOnce
from tests.pages.orders.reading import flat, version
from tests.shops import OpenShop, signed_in
from webapp.models import Blank, Forecast, ForecastKind, Order, OrderStatus, Stage, StepKind, at
from webapp.shop.scheduling import forecasts, promise, promise_queue, shopfloor, working_days
from webapp.shop.scheduling.promise_queue import Waits, queue
from webapp.shop.scheduling.working_days import DayOffAsked, WeekAsked


@pytest.fixture
def calculated(app: FastAPI) -> None:
    app.state.queue = AtOnce(app.state.database)


def taken_on(session: Session, day: date) -> None:
    for order in session.exec(select(Order)):
        order.taken_on = day
        session.add(order)
    session.commit()


@pytest.mark.usefixtures("calculated")
def test_from_the_queue_to_a_promised_day(client: TestClient, open_shop: OpenShop) -> None:
    today = datetime.now(UTC).date()
    with open_shop.database.write() as session:
        for days in (2, 300):
            made.order(session, due_on=today + timedelta(days=days))
        made.opened(session, open_shop.maker, flute_id=1)
        made.opened(session, open_shop.maker)
        taken_on(session, today)
    page = client.get("/promise").text
    assert "An order taken now" in page and "Likely" in page
    # The page itself asks for the forecast; what it shows now holds until something changes.
    with open_shop.database.read() as session:
        runs = session.exec(select(Forecast)).all()
        assert {run.kind for run in runs} == set(ForecastKind)
        assert all(run.result is not None and run.done == run.total for run in runs), [run.fault for run in runs]
        for_one, for_six = promise.for_new(session, 1), promise.for_new(session, 6)
        assert for_one is not None and for_six is not None and for_one.likely and for_six.likely and for_one.safe
        assert for_one.earliest <= for_one.likely <= for_one.safe
        assert for_one.likely < for_six.likely
        assert any(one.kind == "hours" for one in for_six.help)
        assert set(promise.expected_late(session)) == {1}
        count = len(runs)
    client.get("/promise")
    with open_shop.database.read() as session:
        assert len(session.exec(select(Forecast)).all()) == count
    for address in ("/", "/orders", "/orders/1"):
        assert "expected late" in flat(client.get(address).text).lower(), address
    assert "expected late" not in client.get("/orders/2").text.lower()
    # Fewer hours, later dates.
    hours = client.post("/promise/hours/1", data={"monday": "2,5"})
    assert "2.5 h a week" in flat(hours.text)
    for person in (2, 3):
        client.post(f"/promise/hours/{person}", data={})
    assert client.post("/promise/hours/1", data={"monday": "-1"}).status_code == 422
    page = client.get("/promise/offer?count=1").text
    with open_shop.database.read() as session:
        slower = promise.for_new(session, 1)
        assert slower is not None and slower.likely is not None and slower.likely > for_one.likely
        shown = f"{slower.likely.day} {slower.likely:%b %Y}"
    assert shown in page
    # A day is promised from what the page shows, with a reason, and kept in its words.
    page = client.get("/orders/2/promise").text
    day = re.search(r'name="safe_on" value="([\d-]+)"', flat(page))
    assert day is not None
    sent = {"version": version(page), "kind": "safe"}
    assert client.post("/orders/2/promise", data=sent | {"safe_on": "2031-01-01"}).status_code == 422
    assert client.post("/orders/2/promise", data=sent | {"kind": "own"}).status_code == 422
    answer = client.post("/orders/2/promise", data=sent | {"safe_on": day[1]})
    assert answer.status_code == 200
    assert "kept nine times in ten" in answer.text
    with open_shop.database.read() as session:
        order = session.exec(select(Order).where(Order.number == 2)).one()
        kept = promise.last(session, order)
        assert kept is not None and kept.due_on == order.due_on == date.fromisoformat(day[1])
    assert client.post("/orders/2/promise", data=sent | {"safe_on": day[1]}).status_code == 409
    closed = client.post("/promise/closed", data={"first": str(today + timedelta(days=9)), "why": "A fair"})
    assert "A fair" in closed.text
    assert client.post("/promise/closed", data={"first": "2031-05-02", "last": "2031-05-01"}).status_code == 422
    signed_in(client, "kit")
    assert client.get("/promise").status_code == 200
    assert client.post("/promise/hours/1", data={"monday": "8"}).status_code == 403
    assert client.post("/orders/2/promise", data=sent).status_code == 403


def test_the_queue_is_what_is_left_to_do_and_the_past_is_looked_at_as_it_was(open_shop: OpenShop) -> None:
    start = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
    database, maker = open_shop.database, open_shop.maker
    with database.write() as session:
        with at(start):
            flute = made.order(session)
            other = made.order(session, due_on=date(2026, 3, 9))
            [blank] = made.opened(session, maker, flute_id=flute)
            [shelf] = made.opened(session, maker)
            taken_on(session, start.date())
        for n, code in enumerate(("halves", "bore", "flaws")):
            with at(start + timedelta(minutes=40 * (n + 1))):
                made.passed(session, maker, blank, code)
        working_days.set_week(session, open_shop.owner, maker.id, WeekAsked(monday=6, tuesday=6))
        working_days.close(session, open_shop.owner, DayOffAsked(first=date(2026, 3, 9)))
        floor = shopfloor.floor(session)
        assert other and shelf.id
    with at(start):
        days = (start.date() - floor.days.start).days
        # A Monday of a maker's 6 and the owner's assumed 4 hours; a closed one a week later.
        assert floor.days.hours[days] == 10 and floor.days.hours[days + 7] == 0
        assert floor.days.longest[days] == 6
    moment = start + timedelta(hours=3)
    learned = floor.learned(moment)
    now = queue(floor.entries, learned, Waits(), moment)
    assert [job.key for job in now.jobs] == ["order 2", "order 1", promise_queue.SHELF]
    assert now.promised == 2
    whole, begun = (sum(piece.total for piece in now.jobs[n].left) for n in (0, 1))
    assert whole == pytest.approx(sum(figure.mean for figure in learned.stages.values()))
    assert begun < whole - 0.5
    assert [piece.clamps for piece in now.jobs[0].left].count(True) == 1
    assert [piece.wait for piece in now.jobs[0].left if piece.wait] == [24.0, 4.0, 12.0, 24.0]
    before = queue(floor.entries, floor.learned(start), Waits(), start + timedelta(minutes=50))
    assert sum(piece.total for piece in before.jobs[1].left) > begun
    # Entries 40 minutes apart, by one person on one blank: so long each step but the first took, which is not known.
    assert learned.steps == {}  # fewer than five of each say nothing yet
    assert learned.stages[Stage.BORING].count == 0
    waits = {step.kind for step in floor.entries.blanks[blank.id or 0].steps}
    assert {StepKind.GLUE_UP, StepKind.COAT} <= waits
    with database.read() as session:
        assert session.exec(select(Blank.status).where(Blank.id == blank.id)).one() == "in work"
        assert forecasts.latest(session, ForecastKind.QUEUE) is None
        assert promise.for_new(session, 1) is None
        order = session.exec(select(Order).where(Order.status == OrderStatus.IN_THE_SHOP)).one()
        assert promise.of_order(session, order) is None
