"""What a form may not carry: fields that are not its own, another's numbers, breaks in a line, more than its share.

Sources: OWASP ASVS 4.0.3, 4.1.2, 4.2.1, 5.1.1, 5.1.2, 5.1.4, 5.2.2, 12.1.3, 13.2.2, 13.2.5.
"""

import re
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from icalendar import Calendar
from sqlmodel import SQLModel, select
from starlette.datastructures import FormData

from tests.pages.orders.test_orders import TAKE
from tests.shops import OpenShop, signed_in
from webapp.models import CalendarFeed, Customer, Order, OrderedFlute, Person, SignIn, Token
from webapp.pages.frame.forms import MANY_LINES, Form
from webapp.shop.people import accounts, tokens
from webapp.shop.people.tokens import Scope, TokenAsked
from webapp.shop.scheduling import calendar_feed
from webapp.shop.scheduling.calendar_feed import FeedAsked

ON_SQLITE = pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
TEMPLATES = Path(__file__).parents[2] / "webapp" / "templates"
EXTRA = {
    "id": "1", "person_id": "1", "role": "owner", "active": "", "is_demo": "on", "made_by": "1", "by": "1",
    "created_at": "2001-01-01", "password_hash": "x", "code_secret": "x", "number": "777", "status_digest": "x",
    "next_order": "500", "shop_id": "2", "total": "0.01", "currency": "XAU", "session": "x", "who": "1",
}  # fmt: skip


def rows(shop: OpenShop, *models: type[SQLModel]) -> list[dict[str, object]]:
    with shop.database.read() as session:
        return [row.model_dump() for model in models for row in session.exec(select(model)).all()]


@ON_SQLITE
def test_fields_that_are_not_its_own_change_nothing(client: TestClient, app: FastAPI, open_shop: OpenShop) -> None:
    signed_in(client, "tam")
    before = rows(open_shop, Person)
    assert client.post("/me/units", data={"units": "inch"} | EXTRA).status_code == 200
    after = rows(open_shop, Person)
    assert [one | {"units": None} for one in after] == [one | {"units": None} for one in before]
    # A maker names no price: with one it is refused at the field, and nothing is kept.
    order = TAKE | {"status": "enquiry", "species_id": open_shop.species()} | EXTRA
    assert client.post("/orders/new", data=order).status_code == 403 and rows(open_shop, Order) == []
    assert client.post("/orders/new", data=order | {"price": "", "extras_price": ""}).url.path == "/orders/1"
    order, flute = rows(open_shop, Order)[0], rows(open_shop, OrderedFlute)[0]
    assert (order["number"], order["currency"], order["status_digest"]) == (1, "EUR", None)
    assert not flute["price"]
    # By program, a field that is not there is refused rather than passed over; and only JSON is read.
    with open_shop.database.write() as session:
        key = tokens.make(session, open_shop.office, TokenAsked(name="x", scopes=[Scope.OFFICE]))[1]
    bearer = {"authorization": f"Bearer {key}"}
    refused = client.post("/api/v1/customers", json={"name": "Ada", "id": 9, "sought": "x"}, headers=bearer)
    assert (refused.status_code, {e["field"] for e in refused.json()["errors"]}) == (422, {"id", "sought"})
    form = client.post("/api/v1/customers", data={"name": "Ada"}, headers=bearer)
    assert form.status_code == 415, form.text
    assert [one["name"] for one in rows(open_shop, Customer)] == ["Zoë Marlow"]


@ON_SQLITE
def test_a_field_is_read_from_the_form_alone_and_once(client: TestClient, open_shop: OpenShop) -> None:
    """The address, a cookie or a header of the same name says nothing; of two the last counts, on every page alike."""
    client.cookies.set("units", "inch")
    twice = {"units": ["inch", "mm"]}
    client.post("/me/units?units=inch", data=twice, headers={"units": "inch"})
    assert rows(open_shop, Person)[0]["units"] == "mm"


@ON_SQLITE
def test_what_belongs_to_someone_else_is_not_there(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        token, _ = tokens.make(session, open_shop.owner, TokenAsked(name="the owner's", scopes=[Scope.READ]))
        calendar_feed.open_feed(session, open_shop.owner, FeedAsked())
        theirs = session.exec(select(SignIn).where(SignIn.person_id == open_shop.owner.id)).one().token_digest
        key = token.id
    signed_in(client, "tam")
    assert client.post(f"/me/keys/{key}/revoke").status_code == 404
    assert "the owner's" not in client.get("/me/keys").text
    client.post(f"/me/sign-ins/{theirs[:20]}/end")
    client.post("/me/calendar/close")
    with open_shop.database.read() as session:
        assert session.get_one(Token, key).revoked_at is None
        assert session.get(SignIn, theirs) is not None
        assert session.exec(select(CalendarFeed.revoked_at)).one() is None


@ON_SQLITE
def test_one_line_stays_one_line(client: TestClient, open_shop: OpenShop) -> None:
    broken = "Ada\r\nATTENDEE:mailto:x@evil.example\nEND:VEVENT\u2028Bcc: y\x85z\x0b"
    plain = "Ada ATTENDEE:mailto:x@evil.example END:VEVENT Bcc: y z"
    asked = TAKE | {"species_id": open_shop.species(), "customer_name": broken, "note": "two\r\nlines"}
    assert client.post("/orders/new", data=asked).url.path == "/orders/1"
    assert " ".join(str(rows(open_shop, Customer)[0]["name"]).split()) == plain
    assert rows(open_shop, Order)[0]["note"] == "two\nlines"
    address = re.search(r"/calendar/[\w-]{43}\.ics", client.post("/me/calendar", data={"with_customers": "on"}).text)
    assert address is not None
    content = client.get(address[0]).content
    assert not re.search(rb"(?m)^(ATTENDEE|Bcc)", content)
    assert all(len(line) <= 75 for line in content.split(b"\r\n")), "folded (RFC 5545, 3.1)"
    read = Calendar.from_ical(content)
    assert not read.errors and all("ATTENDEE" not in one for one in read.walk("VEVENT"))


def test_every_note_of_a_template_may_have_lines_and_nothing_else() -> None:
    named: set[str] = set()
    for path in TEMPLATES.rglob("*.html"):
        if path.name != "frame/_fields.html":
            text = path.read_text()
            named |= set(re.findall(r'(?<![._\w])note\(\w+, "(\w+)"', text))
            named |= set(re.findall(r'<textarea[^>]* name="(\w+)"', text))
    assert named == MANY_LINES
    form = Form.typed(FormData([("name", "a\nb\tc"), ("note", "a\nb")]))
    assert form.values == {"name": "a b c", "note": "a\nb"}


@ON_SQLITE
@pytest.mark.usefixtures("open_shop")
def test_a_form_has_its_limits(client: TestClient) -> None:
    files = [("file", (f"{n}.txt", b"x", "text/plain")) for n in range(30)]
    assert client.post("/shop/drills", files=files).status_code == 400
    assert client.post("/shop/drills", data={f"f{n}": "x" for n in range(700)}).status_code == 400
    for field in ("name", "sign_in_name"):
        asked = {"name": "Ro", "sign_in_name": "ro", "role": "maker"} | {field: "x" * 81}
        answer = client.post("/shop/people/new", data=asked)
        assert (answer.status_code, f'id="f-{field}-wrong"' in answer.text) == (422, True)
    assert accounts.LONGEST_PASSWORD == 128
