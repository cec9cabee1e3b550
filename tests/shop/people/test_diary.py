"""The diary of one thing."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.shops import OpenShop
from webapp.shop.people import audit, diary


def test_it_is_read_by_time_the_newest_first(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        for what, day in [("paid", 3), ("taken", 1), ("opened", 2), ("quoted", 1)]:
            diary.write(session, open_shop.owner, "order", 7, what, at=datetime(2031, 5, day, tzinfo=UTC))
        diary.write(session, open_shop.owner, "order", 8, "another")
        session.flush()
        assert [entry.what for entry in diary.read(session, open_shop.owner, "order", 7)] == [
            "paid",
            "opened",
            "quoted",
            "taken",
        ]


# Clocks go forward on 30 March 2031 and back on 26 October 2031 in Berlin (tz database, from memory: last Sundays).
@pytest.mark.parametrize(("month", "day", "hours"), [(3, 30, 23), (10, 26, 25), (6, 1, 24)])
def test_a_day_of_the_diary_is_as_long_as_that_day_is(open_shop: OpenShop, month: int, day: int, hours: int) -> None:
    zone = ZoneInfo("Europe/Berlin")
    begins = datetime(2031, month, day, tzinfo=zone).astimezone(UTC)
    with open_shop.database.write() as session:
        for n in range(-1, 27):
            moment = begins + timedelta(hours=n, minutes=30)
            diary.write(session, open_shop.owner, "order", 7, f"{n}", at=moment)
        session.flush()
        asked = audit.Asked(day=date(2031, month, day), subject="order")
        lines = audit.read(session, open_shop.owner, asked, str(zone)).lines
    assert [line.what for line in reversed(lines)] == [str(n) for n in range(hours)]
