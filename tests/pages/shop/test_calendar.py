"""The calendar feed: read back by icalendar, quiet about customers, its address made, renewed and closed."""

import re
from datetime import date, timedelta

from fastapi.testclient import TestClient
from icalendar import Calendar, Event
from sqlmodel import select

from tests import blanks as made
from tests.glue_ups import spread
from tests.shops import OpenShop, signed_in
from webapp.models import CalendarFeed, GlueUp, OrderStatus, Person
from webapp.shop.glue import rules as glue_up
from webapp.shop.glue.rules import TakeOutOfClamps

ADDRESS = re.compile(r'value="http://testserver(/calendar/[\w-]{43}\.ics)"')


def entries(content: bytes) -> dict[str, Event]:
    """The feed's entries by their summaries, as a calendar reads them."""
    read = Calendar.from_ical(content)
    assert read["version"] == "2.0" and not read.errors
    found = list(read.walk("VEVENT"))
    assert not any(one.errors for one in found)
    assert len({str(one["uid"]) for one in found}) == len(found)
    return {str(one["summary"]): one for one in found}


def test_what_comes_due_stands_in_a_calendar_until_its_address_is_closed(
    client: TestClient, open_shop: OpenShop
) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        flute = made.order(session, OrderStatus.IN_THE_SHOP)
        one, other = made.opened(session, maker, 2, flute_id=flute)
        for blank in (one, other):
            made.bring_to(session, maker, blank, "glue-up")
        set_id = spread(session, maker, [one, other]).id or 0
        glue_up.clamp(session, maker, set_id)
        glued = session.get(GlueUp, set_id)
        assert glued is not None and glued.out_at is not None and glued.cured_at is not None
        out_at, cured_at = (moment.replace(microsecond=0) for moment in (glued.out_at, glued.cured_at))
    assert client.post("/me/calendar", data={"alarm_minutes": "7"}).status_code == 422
    page = client.post("/me/calendar", data={"alarm_minutes": "10"})
    found = ADDRESS.search(page.text)
    assert found is not None and found[1] not in client.get("/me/calendar").text  # shown once
    address = found[1]
    client.cookies.clear()  # a calendar signs in nowhere
    answer = client.get(address)
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    assert answer.headers["cache-control"] == "private, no-cache"
    assert b"Rosa" not in answer.content
    seen = entries(answer.content)
    assert set(seen) == {"Out of the clamps: 0001, 0002", "Cured: 0001, 0002", "Order 1 is due"}
    out, due = seen["Out of the clamps: 0001, 0002"], seen["Order 1 is due"]
    assert out["dtstart"].dt == out_at and out["dtstart"].to_ical().endswith(b"Z")
    assert seen["Cured: 0001, 0002"]["dtstart"].dt == cured_at
    assert "dtstamp" in out and str(out["url"]) == "http://testserver/glue-up"
    [alarm] = out.walk("VALARM")
    assert alarm["trigger"].dt == timedelta(minutes=-10)
    assert (due["dtstart"].dt, due["dtend"].dt) == (date(2031, 5, 2), date(2031, 5, 3))  # the whole day
    # Nothing changed: not sent again. The same entry keeps its uid when something else changes.
    etag = answer.headers["etag"]
    assert client.get(address, headers={"if-none-match": etag}).status_code == 304
    assert client.head(address).status_code == 200
    with open_shop.database.write() as session:
        glue_up.take_out(session, maker, set_id, TakeOutOfClamps(blanks=[one.id or 0], why="it slipped"))
        assert session.exec(select(CalendarFeed)).one().read_at is not None
    answer = client.get(address, headers={"if-none-match": etag})
    later = entries(answer.content)
    assert answer.status_code == 200 and answer.headers["etag"] != etag
    assert later["Out of the clamps: 0002"]["uid"] == out["uid"]
    # With customers' names only where someone chose so; a new address makes the old one dead.
    signed_in(client, "ines")
    renewed = ADDRESS.search(client.post("/me/calendar", data={"with_customers": "on"}).text)
    assert renewed is not None and renewed[1] != address
    assert client.get(address).status_code == 404
    named = entries(client.get(renewed[1]).content)
    assert "Order 1 is due, Rosa Lindqvist" in named and not named["Cured: 0001, 0002"].walk("VALARM")
    assert client.get(f"/calendar/{'x' * 43}.ics").status_code == 404
    assert client.get(f"/calendar/{'x' * 400}.ics").status_code == 404
    # Each person's own; a person who left reads nothing; closed is closed.
    kit = ADDRESS.search(signed_in(client, "kit").post("/me/calendar").text)
    assert kit is not None and client.get(kit[1]).status_code == 200
    with open_shop.database.write() as session:
        person = session.exec(select(Person).where(Person.name == "Kit")).one()
        person.active = False
        session.add(person)
        session.commit()
        assert all(
            secret not in row.digest for row in session.exec(select(CalendarFeed)) for secret in (kit[1][10:53],)
        )
    assert client.get(kit[1]).status_code == 404
    signed_in(client, "ines").post("/me/calendar/close")
    assert client.get(renewed[1]).status_code == 404
