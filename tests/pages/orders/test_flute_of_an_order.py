"""From an ordered flute to its blanks: a pattern chosen or designed, wood that suits it, blanks opened."""

import re
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from tests.pages.orders.reading import flat, version
from tests.pages.orders.test_orders import TAKE, wrong
from tests.shops import OpenShop, signed_in
from webapp.models import PatternRevision

HALVES = {"kind": "halves", "unit": "piece", "quantity": "5", "width": "38 mm", "thickness": "19 mm"}


@pytest.fixture
def flute(client: TestClient, open_shop: OpenShop) -> str:
    """The address of the one flute of a confirmed order."""
    sent = TAKE | {"species_id": open_shop.species(), "key": "A4", "count": "1"}
    page = client.post("/orders/new", data=sent)
    found = re.search(r'href="(/orders/1/flutes/\d+)/pattern"', page.text)
    assert found is not None
    return found[1]


def lot(client: TestClient, open_shop: OpenShop, name: str, wood: str = "black walnut", **more: Any) -> str:
    """The number of a lot of halves put into stock."""
    sent = HALVES | {"name": name, "species_id": open_shop.species(wood), "length": "640 mm"} | more
    return client.post("/stock/new", data=sent).url.path.removeprefix("/stock/")


def design(client: TestClient, flute: str, **more: str) -> Any:
    page = client.get(f"{flute}/pattern")
    return client.post(
        f"{flute}/design", data={"version": version(page.text), "name": "A4 on the spot", "reach": "190 mm"} | more
    )


def test_a_flute_without_a_proven_pattern_is_designed_on_the_spot_and_built_from_it(
    client: TestClient, flute: str
) -> None:
    page = client.get(f"{flute}/pattern")
    assert "designed on the spot" in page.text
    assert "drawing--working" in page.text
    assert 'name="reach" type="text" value="190.0 mm"' in flat(page.text)
    order = design(client, flute)
    assert order.url.path == "/orders/1"
    assert "A4 on the spot, revision 1" in order.text
    assert "to be built from A4 on the spot" in order.text
    assert "Choose wood and open a blank for flute 1." in order.text


def test_a_proven_pattern_comes_first_and_is_not_designed_again(client: TestClient, flute: str) -> None:
    client.post("/patterns/design", data={"key": "A4", "name": "our A4"})
    client.post("/patterns/1/1/proven")
    page = client.get(f"{flute}/pattern")
    assert "our A4, revision 1, proven" in page.text
    assert "Save the pattern and build from it" not in page.text
    assert "Save the pattern and build from it" in client.get(f"{flute}/pattern?design=1").text
    order = client.post(f"{flute}/pattern", data={"version": version(page.text), "revision_id": "1"})
    assert "our A4, revision 1" in flat(order.text).split('class="diary"')[0]


def test_a_pattern_that_the_hand_cannot_reach_is_marked(client: TestClient, flute: str) -> None:
    client.post("/patterns/design", data={"key": "A4", "name": "our A4"})
    page = client.get(flute)
    sent = TAKE | {"species_id": "1", "key": "A4", "reach": "100 mm", "why": "small hands"}
    sent |= {"version": version(page.text)}
    client.post(flute, data=sent)
    assert "farther than this hand can reach" in flat(client.get(f"{flute}/pattern").text)


def test_other_sizes_can_be_asked_for_and_what_is_wrong_is_said(client: TestClient, flute: str) -> None:
    assert 'name="bore" type="text" value="22 mm"' in flat(client.get(f"{flute}/pattern?bore=22 mm").text)
    bad = client.get(f"{flute}/pattern?bore=thick")
    assert bad.status_code == 422
    assert "Write a length" in wrong(bad.text, "bore")
    nameless = design(client, flute, name="")
    assert nameless.status_code == 422
    assert "fill this in" in wrong(nameless.text, "name")


def test_what_is_refused_leaves_nothing_behind(client: TestClient, open_shop: OpenShop, flute: str) -> None:
    stale = design(client, flute, version="0")
    assert stale.status_code == 409
    assert "A4 on the spot" not in client.get("/patterns").text
    unfit = client.post("/patterns/design", data={"key": "B4", "name": "B4"})
    assert unfit.status_code == 200
    with open_shop.database.read() as session:
        revision_id = session.exec(select(PatternRevision.id)).one()
    page = client.get(f"{flute}/pattern")
    refused = client.post(f"{flute}/pattern", data={"version": version(page.text), "revision_id": revision_id})
    assert refused.status_code == 409
    assert "not what this flute asks for" in refused.text
    for revision in ("99", "99999999999999"):
        sent = {"version": version(page.text), "revision_id": revision}
        assert client.post(f"{flute}/pattern", data=sent).status_code in (404, 422)


def test_wood_is_chosen_reserved_and_blanks_are_opened(client: TestClient, open_shop: OpenShop, flute: str) -> None:
    assert client.get(f"{flute}/wood").status_code == 409, "wood depends on the pattern"
    design(client, flute)
    good = lot(client, open_shop, "long walnut")
    short = lot(client, open_shop, "short walnut", length="300 mm")
    lot(client, open_shop, "cherry", "black cherry")
    page = client.get(f"{flute}/wood").text
    tiles = page.split('name="item_id"')
    assert any("long walnut" in tile for tile in tiles[1:])
    assert "too short: 300 mm long" in page
    assert "cherry" not in page.split("<main")[1]
    refused = client.post(f"{flute}/wood", data={"item_id": short, "count": "1"})
    assert refused.status_code == 422
    assert "too short" in refused.text.split("data-summary")[1]
    greedy = client.post(f"{flute}/wood", data={"item_id": good, "count": "3"})
    assert greedy.status_code == 409
    assert "free" in greedy.text.split("data-summary")[1]
    assert "5 pieces" in client.get(f"/stock/{good}").text
    order = client.post(f"{flute}/wood", data={"item_id": good, "count": "2"})
    assert order.url.path == "/orders/1"
    assert "in the shop" in order.text
    serials = re.findall(r'href="/blanks/([^"/]+)"', order.text)
    assert len(serials) == 2
    stock = client.get(f"/stock/{good}").text
    assert re.search(r"Free</dt><dd>1 piece<", stock)
    assert all(serial in stock for serial in serials)
    assert "2 in work" in client.get("/patterns/1").text


@pytest.mark.parametrize(
    ("field", "typed"), [("item_id", ""), ("item_id", "77"), ("item_id", "oak"), ("count", "0"), ("count", "many")]
)
def test_what_is_wrong_with_the_wood_stands_at_its_field(
    client: TestClient, open_shop: OpenShop, flute: str, field: str, typed: str
) -> None:
    design(client, flute)
    sent = {"item_id": lot(client, open_shop, "long walnut"), "count": "1", field: typed}
    answer = client.post(f"{flute}/wood", data=sent)
    assert answer.status_code == 422
    assert wrong(answer.text, field)


def test_blanks_can_be_opened_from_wood_that_is_not_in_stock(client: TestClient, flute: str) -> None:
    design(client, flute)
    order = client.post(f"{flute}/wood", data={"item_id": "none", "count": "1"})
    assert "At the bench" in order.text


def test_what_does_not_exist_is_not_found(client: TestClient, flute: str) -> None:
    for address in ("/orders/1/flutes/99/pattern", "/orders/9/flutes/1/wood", "/orders/1/flutes/x/wood"):
        assert client.get(address).status_code == 404


def test_someone_who_may_only_look_chooses_nothing(client: TestClient, flute: str) -> None:
    signed_in(client, "kit")
    for part in ("pattern", "wood"):
        assert client.get(f"{flute}/{part}").status_code == 403
        assert client.post(f"{flute}/{part}", data={}).status_code == 403
    assert client.post(f"{flute}/design", data={}).status_code == 403
