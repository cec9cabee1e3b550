"""A mail about an order as it is looked over before a person's own program opens it."""

from html import unescape

from fastapi.testclient import TestClient

from tests import blanks as made
from tests.pages.orders.reading import flat
from tests.shops import OpenShop, signed_in


def test_a_draft_is_looked_over_and_its_words_are_changed(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        made.order(session)
    assert 'href="/orders/1/mail/ready"' in client.get("/orders/1").text
    page = client.get("/orders/1/mail/ready")
    assert 'href="mailto:?subject=' in page.text and "Your order 1 is ready" in page.text
    assert "No mail address stands in" in flat(page.text)
    sent = {"subject": "Come", "body": "Dear {customer},\nit is {price}.", "version": "0"}
    refused = client.post("/shop/mails/ready", data=sent)
    assert refused.status_code == 422 and "There is no field {price}" in unescape(refused.text)
    assert "Dear {customer},\nit is {price}." in unescape(refused.text)
    client.post("/shop/mails/ready", data=sent | {"body": "Dear {customer},\ncome."})
    assert "Dear Rosa Lindqvist,\ncome." in client.get("/orders/1/mail/ready").text
    assert client.get("/orders/1/mail/threat").status_code == 404
    signed_in(client, "tam")
    assert client.get("/orders/1/mail/ready").status_code == 200
    assert client.get("/shop/mails/ready").status_code == 403
