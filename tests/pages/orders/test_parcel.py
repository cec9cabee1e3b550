"""The parcel's page: an address, a gift refused at its fields, and the sheet for a border as it is printed."""

from fastapi.testclient import TestClient

from tests import blanks as made
from tests.pages.orders.reading import flat
from tests.paper.reading import text
from tests.shops import OpenShop, signed_in
from webapp.models import BlankStatus, Order, Stage


def ready(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        [blank] = made.opened(session, open_shop.maker, flute_id=made.order(session))
        blank.status, blank.stage = BlankStatus.FINISHED, Stage.FINISHING
        session.add(blank)
        session.flush()
        session.get_one(Order, 1).status = "ready"  # type: ignore[assignment]


def test_a_gift_needs_an_address_and_its_slip_names_whoever_it_goes_to(client: TestClient, open_shop: OpenShop) -> None:
    ready(open_shop)
    sent = {"name": "Lio Hart", "is_gift": "on", "gift_words": "For the\nharbour", "weight": "1 lb", "version": "0"}
    refused = client.post("/orders/1/parcel", data=sent)
    assert refused.status_code == 422 and "A gift needs its own address" in refused.text
    assert 'value="Lio Hart"' in refused.text and "For the\nharbour" in refused.text
    kept = client.post("/orders/1/parcel", data=sent | {"address": "1 Quay", "country": "NZ"})
    assert kept.url.path == "/orders/1" and "the customer is not named" in flat(kept.text)
    slip = " ".join(text(client.get("/orders/1/packing.pdf").content).split())
    assert "Lio Hart" in slip and "New Zealand" in slip and "Lindqvist" not in slip
    sheet = " ".join(text(client.get("/orders/1/border.pdf").content).split())
    assert "Juglans nigra" in sheet and "Lio Hart" in sheet and "454 g" in sheet and "CITES" in sheet
    stale = client.post("/orders/1/parcel", data=sent | {"address": "2 Quay"})
    assert stale.status_code == 409 and "2 Quay" in stale.text and "1 Quay" in stale.text
    assert client.post("/orders/1/parcel", data={"weight": "heavy", "version": "1"}).status_code == 422


def test_a_viewer_neither_sees_the_form_nor_changes_it(client: TestClient, open_shop: OpenShop) -> None:
    ready(open_shop)
    signed_in(client, "kit")
    assert client.get("/orders/1/parcel").status_code == 403
    assert client.post("/orders/1/parcel", data={"version": "0"}).status_code == 403
