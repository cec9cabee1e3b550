"""No date is promised on a day when nobody works: closed days, weekends, everybody away."""

from datetime import date

import pytest
from fastapi.testclient import TestClient

from tests.pages.orders.reading import flat
from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop, signed_in
from webapp.models import PromiseKind
from webapp.shop.base.errors import Invalid
from webapp.shop.orders import rules as orders
from webapp.shop.scheduling import promise, working_days
from webapp.shop.scheduling.promise import AcceptDate
from webapp.shop.scheduling.working_days import DayOffAsked, WeekAsked

CHRISTMAS_EVE, SUNDAY = date(2026, 12, 24), date(2026, 12, 27)


def closed(shop: OpenShop) -> None:
    with shop.database.write() as session:
        between = DayOffAsked(first=CHRISTMAS_EVE, last=date(2026, 12, 31), why="between the years")
        working_days.close(session, shop.owner, between)
        session.commit()


def test_the_next_day_on_which_somebody_works(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        calendar = working_days.open_days(session)
        assert SUNDAY.strftime("%A") == "Sunday" and not calendar.is_open(SUNDAY)
        assert calendar.next_open(SUNDAY) == date(2026, 12, 28)
        assert calendar.next_open(CHRISTMAS_EVE) == CHRISTMAS_EVE
        session.rollback()
    closed(open_shop)
    with open_shop.database.write() as session:
        assert working_days.open_days(session).next_open(CHRISTMAS_EVE) == date(2027, 1, 1)
        # One of two is away: the other works. Both: nobody does.
        for who in (open_shop.owner, open_shop.maker):
            assert working_days.open_days(session).is_open(date(2027, 1, 4))
            away = DayOffAsked(first=date(2027, 1, 4), person_id=who.id)
            working_days.close(session, open_shop.owner, away)
        assert working_days.open_days(session).next_open(date(2027, 1, 4)) == date(2027, 1, 5)
        # Somebody who works on Sundays opens them.
        working_days.set_week(session, open_shop.owner, open_shop.maker.id, WeekAsked(sunday=3.0))
        assert working_days.open_days(session).is_open(date(2027, 1, 3))


def test_calculated_dates_and_dates_of_the_shops_own(open_shop: OpenShop) -> None:
    closed(open_shop)
    with open_shop.database.write() as session:
        result = {"at": "2026-12-01T08:00:00+00:00", "new": [], "help": {}, "orders": {}}
        found = {"earliest": "2026-12-19", "likely": "2026-12-27", "safe": "2027-01-02", "on_time": 0.5}
        dates = promise._dates(session, found, result, {})
        assert (dates.earliest, dates.likely) == (date(2026, 12, 21), date(2027, 1, 1))
        assert dates.safe is not None and dates.safe.weekday() < 5
        orders.take_order(session, open_shop.office, asked(open_shop))
        with pytest.raises(Invalid) as caught:
            own = AcceptDate(kind=PromiseKind.OWN, due_on=SUNDAY, why="agreed", version=1)
            promise.accept(session, open_shop.office, 1, own)
        says = "Nobody works on Sun 27 Dec 2026. The next day on which somebody does is Fri 1 Jan 2027."
        assert caught.value.errors == {"due_on": says}


def test_a_date_that_was_typed_on_such_a_day_is_said(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        for day in (date(2031, 6, 1), date(2031, 6, 2)):
            orders.take_order(session, open_shop.office, asked(open_shop, due_on=day))
        session.commit()
    office = signed_in(client, "bo")
    assert "Nobody works on that day." in flat(office.get("/orders/1").text)
    assert "Nobody works on that day." not in flat(office.get("/orders/2").text)
