"""One order open in two tabs: the second to save is told, sees both versions, and loses nothing typed."""

import re
from datetime import date, timedelta

from fastapi.testclient import TestClient
from sqlmodel import Session, select

from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop
from webapp.models import Order, OrderStatus, Payment
from webapp.shop.orders import rules as orders


def order_1(shop: OpenShop) -> Order:
    with shop.database.read() as session:
        return orders.order_of(session, 1)


def typed(page: str) -> dict[str, str]:
    """The form as a browser would send it back."""
    form = page.split('<form class="form"')[1].split("</form>")[0]
    fields = dict(re.findall(r'<input[^>]*name="([^"]+)"[^>]*value="([^"]*)"', form))
    fields |= dict(re.findall(r'<textarea[^>]*name="([^"]+)"[^>]*>\n?([^<]*)</textarea>', form))
    fields.pop("once", None)
    return fields


def take(session: Session, shop: OpenShop) -> None:
    orders.take_order(session, shop.office, asked(shop, status=OrderStatus.ENQUIRY, note="first"))


def test_two_tabs_that_edit_a_note(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        take(session, open_shop)
    mine, theirs = (typed(client.get("/orders/1/edit").text) for _ in range(2))
    assert mine["note"] == "first"
    saved = client.post("/orders/1/edit", data=theirs | {"note": "from tab one"}, follow_redirects=False)
    assert saved.status_code == 303
    refused = client.post("/orders/1/edit", data=mine | {"note": "from tab two"}, follow_redirects=False)
    assert refused.status_code == 409
    assert order_1(open_shop).note == "from tab one"
    told = refused.text.split("<main")[1]
    assert "Someone else changed this" in told and "from tab one" in told and "from tab two" in told
    again = client.post("/orders/1/edit", data=typed(refused.text), follow_redirects=False)
    assert again.status_code == 303 and order_1(open_shop).note == "from tab two"


def test_both_versions_of_every_field_are_shown(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        take(session, open_shop)
    mine = typed(client.get("/orders/1/edit").text)
    due = (date.today() + timedelta(days=77)).isoformat()
    theirs = {"due_on": due, "note": "theirs", "postage": "11.50", "deposit": "44"}
    assert client.post("/orders/1/edit", data=mine | theirs, follow_redirects=False).status_code == 303
    told = client.post("/orders/1/edit", data=mine | {"postage": "8"}, follow_redirects=False).text
    notice = told.split("Someone else changed this")[1].split("</ul>")[0]
    for words in ("Due", due, "Note", "theirs", "Packing and postage", "11.50", "Deposit", "44.00"):
        assert words in notice, words


def test_an_emptied_field_is_emptied_and_a_field_that_was_not_sent_stays(
    client: TestClient, open_shop: OpenShop
) -> None:
    with open_shop.database.write() as session:
        take(session, open_shop)
    first = typed(client.get("/orders/1/edit").text)
    full = {"note": "keep me", "postage": "12", "deposit": "30"}
    assert client.post("/orders/1/edit", data=first | full, follow_redirects=False).status_code == 303
    gone = {"version": "2", "due_on": "", "postage": "", "deposit": ""}
    assert client.post("/orders/1/edit", data=gone, follow_redirects=False).status_code == 303
    order = order_1(open_shop)
    assert (order.due_on, order.note, order.postage, order.deposit) == (None, "keep me", 0, None)


def test_two_tabs_do_not_record_the_same_payment(client: TestClient, open_shop: OpenShop) -> None:
    """Each tab's form has a key of its own; what the ledger held when it was shown tells that the other was quicker."""
    with open_shop.database.write() as session:
        orders.take_order(session, open_shop.office, asked(open_shop))
    pay = {"kind": "payment", "amount": "240", "paid_by": "cash", "paid_on": "2026-01-05"}
    tabs = [client.get("/orders/1").text for _ in range(2)]
    seen = [re.findall(r'name="last_seen" value="(\d+)"', page) for page in tabs]
    assert seen == [["0"], ["0"]]
    assert client.post("/orders/1/payments", data=pay | {"last_seen": "0"}).status_code == 200
    again = client.post("/orders/1/payments", data=pay | {"last_seen": "0"})
    assert again.status_code == 409 and "someone recorded a payment" in again.text
    assert 'name="amount" type="text"\n    value="240"' in again.text, "what was typed is kept"
    with open_shop.database.read() as session:
        assert len(session.exec(select(Payment)).all()) == 1
    # Another payment of the same amount, and it is meant: sent again, on what is on the screen now.
    [last] = re.findall(r'name="last_seen" value="(\d+)"', again.text)
    assert client.post("/orders/1/payments", data=pay | {"last_seen": last}).status_code == 200
    with open_shop.database.read() as session:
        assert len(session.exec(select(Payment)).all()) == 2
