"""The shelf's pages: listed, priced, taken by an order with one tap, given back, refused at the field."""

import re

import pytest
from fastapi.testclient import TestClient

from tests import blanks as made
from tests.pages.orders.reading import flat, version
from tests.shops import OpenShop, signed_in
from webapp.models import BlankStatus, now


@pytest.fixture
def serial(open_shop: OpenShop) -> str:
    """A finished flute on the shelf, and an order that waits for such a one."""
    with open_shop.database.write() as session:
        [blank] = made.opened(session, open_shop.maker)
        blank.status, blank.finished_at = BlankStatus.FINISHED, now()
        session.add(blank)
        made.order(session)
        return blank.serial


def test_a_flute_of_the_shelf_is_priced_taken_with_one_tap_and_given_back(client: TestClient, serial: str) -> None:
    page = client.get(f"/shelf/{serial}")
    kept = client.post(f"/shelf/{serial}", data={"price": "310", "place": "the window", "version": version(page.text)})
    assert kept.status_code == 200
    listed = flat(client.get("/shelf").text)
    assert serial in listed and "€310.00" in listed and "the window" in listed
    assert "Take it for this order" in client.get(f"/shelf/{serial}").text
    order = client.get("/orders/1").text
    assert "Take this black walnut one now instead" in flat(order)
    address = re.search(r'action="(/orders/1/flutes/\d+/shelf)"', order)
    assert address
    taken = client.post(address[1], data={"serial": serial, "version": version(order)})
    assert "ready" in taken.text and "Give back to the shelf" in taken.text
    assert client.get("/shelf").text.count(f"/shelf/{serial}") == 0
    again = client.post(
        address[1].replace("/shelf", "/give-back"), data={"serial": serial, "version": version(taken.text)}
    )
    assert again.url.path == "/orders/1" and "in the shop" in again.text
    assert f"/shelf/{serial}" in client.get("/shelf").text


def test_what_cannot_be_taken_is_said_at_the_field_and_stays_typed(client: TestClient, serial: str) -> None:
    address = re.search(r'action="(/orders/1/flutes/\d+/shelf)"', client.get("/orders/1").text)
    assert address
    answer = client.post(address[1], data={"serial": "no-such", "version": "1"})
    assert answer.status_code == 422
    assert "There is no blank no-such." in answer.text and 'value="no-such"' in answer.text
    stale = client.post(address[1], data={"serial": serial, "version": "0"})
    assert stale.status_code == 409 and f'value="{serial}"' in stale.text
    assert client.get("/shelf?key=H9").status_code == 422
    assert client.get("/shelf?show=nothing&page=x").status_code == 200


def test_a_maker_sees_no_price_and_a_viewer_changes_nothing(client: TestClient, serial: str) -> None:
    client.post(f"/shelf/{serial}", data={"price": "4711", "version": "0"})
    signed_in(client, "tam")
    for address in ("/shelf", f"/shelf/{serial}", "/orders/1"):
        assert "4,711" not in client.get(address).text
    sent = client.post(f"/shelf/{serial}", data={"price": "1", "place": "x", "version": "1"})
    assert sent.status_code == 403 and "for the owner or office" in sent.text
    signed_in(client, "kit")
    assert client.post(f"/shelf/{serial}", data={"place": "x", "version": "1"}).status_code == 403
