"""An enquiry without a key taken on the page; two entries merged and a customer erased, each after a question."""

from fastapi.testclient import TestClient

from tests import blanks as made
from tests.pages.orders.reading import flat, version
from tests.pages.orders.test_orders import TAKE, wrong
from tests.shops import OpenShop, signed_in
from webapp.models import Customer, OrderStatus


def test_an_enquiry_may_leave_key_and_wood_open_and_a_confirmed_order_may_not(
    client: TestClient, open_shop: OpenShop
) -> None:
    sent = TAKE | {"species_id": "", "key": "", "status": "enquiry", "price": "", "due_on": ""}
    page = client.post("/orders/new", data=sent)
    assert page.url.path == "/orders/1" and "Add the flute once its key and wood are known." in flat(page.text)
    refused = client.post("/orders/1/confirm", data={"version": version(page.text)})
    assert refused.status_code == 409 and "Nothing is asked for yet" in refused.text
    for address in ("/orders", "/orders/1/promise", "/orders/1/edit", "/orders/1/flutes/new", "/promise", "/"):
        assert client.get(address).status_code == 200, address
    firm = client.post("/orders/new", data=sent | {"status": "confirmed", "price": "9", "due_on": "2036-05-02"})
    assert firm.status_code == 422 and "fill this in" in wrong(firm.text, "key")
    bad = client.post("/orders/new", data=sent | {"key": "H9"})
    assert bad.status_code == 422 and "a note from G3 to C6" in wrong(bad.text, "key")


def test_two_entries_are_shown_side_by_side_before_they_become_one(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        made.order(session)
        session.add(Customer(name="Rosa Lindquist", contact="0555 0100"))
    asked = client.get("/customers/1/merge?name=rosa")
    assert "Rosa Lindquist" in asked.text and "Yes, merge them" not in asked.text
    both = client.get("/customers/1/merge?other_id=2")
    assert "Are these one person?" in both.text and "0555 0100" in both.text
    stale = client.post("/customers/1/merge", data={"other_id": "2", "version": "1", "other_version": "7"})
    assert stale.status_code == 409 and "Look at both again" in flat(stale.text)
    assert client.post("/customers/1/merge", data={"other_id": "x", "version": "1"}).status_code == 422
    done = client.post("/customers/1/merge", data={"other_id": "2", "version": "1", "other_version": "1"})
    assert done.url.path == "/customers/1" and "0555 0100" in done.text
    assert client.get("/customers/2").status_code == 404


def test_a_customer_is_erased_after_a_question_and_not_by_a_maker(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        made.order(session, OrderStatus.WITHDRAWN)
    asked = client.get("/customers/1/erase")
    assert "Erase this customer?" in asked.text and "1 order and what was paid stay" in flat(asked.text)
    signed_in(client, "tam")
    assert client.get("/customers/1/erase").status_code == 403
    assert client.post("/customers/1/erase", data={"version": "1"}).status_code == 403
    signed_in(client, "bo")
    assert client.post("/customers/1/erase", data={"version": "9"}).status_code == 409
    gone = client.post("/customers/1/erase", data={"version": "1"})
    assert "Erased customer 1" in gone.text and "Lindqvist" not in gone.text
    assert "Lindqvist" not in client.get("/orders/1").text
    assert client.get("/customers/77/erase").status_code == 404
