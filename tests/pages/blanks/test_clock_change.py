"""A glue-up over the night in which clocks are changed: clamps hold for as long as on any other night, and the page
names the time that the clock on the wall then shows.
When clocks change: IANA time zone database, `europe` (EU rule: last Sundays of March and October, 01:00 UTC) and
`northamerica` (US rule: second Sunday of March, first of November, 02:00 on the wall).
"""

from datetime import UTC, datetime, timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Blank, Shop, at

ASKED = {"adhesive_id": "1", "temperature": "20", "lot": "L7"}
ORDINARY = datetime(2026, 2, 10, 12, 0, tzinfo=UTC)


def clamped(client: TestClient, shop: OpenShop, moment: datetime) -> Blank:
    """One more blank, in clamps since that moment."""
    with shop.database.write() as session:
        [blank] = made.opened(session, shop.maker, 1)
        made.bring_to(session, shop.maker, blank, "glue-up")
        number = str(blank.id)
    with at(moment):
        page = client.post("/glue-up", data=ASKED | {"blanks": number})
        address = page.url.path if page.url.path != "/glue-up" else "/glue-up/1"
        assert client.post(f"{address.rstrip('/')}/clamped").status_code == 200
    with shop.database.read() as session:
        return session.exec(select(Blank).where(Blank.id == int(number))).one()


@pytest.mark.parametrize(
    ("zone", "moment", "minutes_on_the_wall"),
    [
        ("Europe/Berlin", datetime(2026, 3, 29, 0, 45, tzinfo=UTC), 60),
        ("Europe/Berlin", datetime(2026, 10, 25, 0, 45, tzinfo=UTC), -60),
        ("America/New_York", datetime(2026, 3, 8, 6, 45, tzinfo=UTC), 60),
        ("America/New_York", datetime(2026, 11, 1, 5, 45, tzinfo=UTC), -60),
        ("Asia/Tokyo", datetime(2026, 3, 29, 0, 45, tzinfo=UTC), 0),
    ],
)
def test_clamps_hold_as_long_as_on_any_night(
    client: TestClient, open_shop: OpenShop, zone: str, moment: datetime, minutes_on_the_wall: int
) -> None:
    with open_shop.database.write() as session:
        session.get_one(Shop, 1).timezone = zone
    blank = clamped(client, open_shop, moment)
    assert blank.waits_for == "clamps" and blank.waits_until is not None
    held = blank.waits_until - moment
    assert timedelta(minutes=15) < held < timedelta(hours=12)
    with at(moment + timedelta(minutes=1)):
        page = client.get("/glue-up").text
    # What a clock shows that was not changed, and then changed by hand as the rule of that place says.
    usual = ORDINARY.replace(hour=0, minute=0)
    offset = {"Europe/Berlin": (1, 2), "America/New_York": (-5, -4), "Asia/Tokyo": (9, 9)}[zone]
    before = offset[1] if minutes_on_the_wall < 0 else offset[0]
    shown = usual + timedelta(hours=moment.hour + before, minutes=moment.minute) + held
    shown += timedelta(minutes=minutes_on_the_wall)
    assert f"{shown:%H:%M}" in page
    with at(blank.waits_until - timedelta(minutes=1)):
        early = client.post("/glue-up/1/out", data={"all": "yes"})
        assert early.status_code == 422 and "say why they come out now" in early.text
    with at(blank.waits_until + timedelta(minutes=1)):
        assert client.post("/glue-up/1/out", data={"all": "yes"}).status_code == 200
