"""A day of sales and the outlets in a browser: one form, what is wrong at its field, and nobody else's business."""

import re

from fastapi.testclient import TestClient

from tests import blanks as made
from tests.pages.orders.reading import flat
from tests.shops import OpenShop, signed_in
from webapp.models import BlankStatus, now


def finished(open_shop: OpenShop, count: int = 1) -> list[str]:
    with open_shop.database.write() as session:
        found = made.opened(session, open_shop.maker, count)
        for blank in found:
            blank.status, blank.finished_at = BlankStatus.FINISHED, now()
            session.add(blank)
        return [blank.serial for blank in found]


def test_a_flute_is_sold_with_one_form_and_taken_back(client: TestClient, open_shop: OpenShop) -> None:
    serial, _ = finished(open_shop, 2)
    assert f'value="{serial}"' in client.get("/shelf/sales").text
    sent = {"serial": serial, "price": "", "paid_by": "card", "place": "harbour fair"}
    refused = client.post("/shelf/sales", data=sent)
    assert refused.status_code == 422 and "the shelf has none for it" in refused.text
    assert 'value="harbour fair"' in flat(refused.text)
    sold = client.post("/shelf/sales", data=sent | {"price": "345"})
    assert "€345.00" in sold.text and "for 1 flute" in flat(sold.text)
    assert 'value="harbour fair"' in flat(sold.text)
    assert "handed over" in client.get("/orders/1").text
    again = client.post("/shelf/sales", data=sent | {"price": "345"})
    assert again.status_code == 422 and "has left the shop" in again.text
    back = re.search(r'href="(/shelf/sales/\d+)"', sold.text)
    assert back
    assert client.post(back[1], data={"why": ""}).status_code == 422
    assert "Nothing yet." in client.post(back[1], data={"why": "another flute"}).text
    assert serial in client.get("/shelf").text


def test_an_outlet_is_added_brought_a_flute_and_owes_what_it_sold(client: TestClient, open_shop: OpenShop) -> None:
    one, two = finished(open_shop, 2)
    client.post(f"/shelf/{one}", data={"price": "300", "version": "0"})
    assert client.post("/shelf/outlets", data={"name": "", "keeps_percent": "x"}).status_code == 422
    client.post("/shelf/outlets", data={"name": "Pier Gallery", "keeps_percent": "40"})
    assert client.post("/shelf/outlets/1/bring", data={"serial": "nothing"}).status_code in (404, 422)
    for serial in (one, two):
        assert serial in client.post("/shelf/outlets/1/bring", data={"serial": serial}).text
    refused = client.post("/shelf/outlets/1/sold", data={"serial": two})
    assert refused.status_code == 422 and "Write the price" in refused.text
    sold = client.post("/shelf/outlets/1/sold", data={"serial": one})
    assert "€180.00" in sold.text
    assert two not in flat(client.post("/shelf/outlets/1/fetch", data={"serial": two}).text).split("Bring a flute")[0]
    signed_in(client, "tam")
    for address in ("/shelf/outlets", "/shelf/sales", "/shelf/outlets/1"):
        assert client.get(address).status_code == 403
    assert client.post("/shelf/sales", data={"serial": two, "price": "1", "paid_by": "cash"}).status_code == 403
