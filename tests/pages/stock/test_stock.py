"""The stock screens: what is shown, what is wrong with what was typed, who may change what."""

import re

import pytest
from fastapi.testclient import TestClient

from tests.shops import OpenShop, signed_in

HALVES = {"kind": "halves", "name": "walnut, plank of March", "unit": "piece", "quantity": "12", "length": '24 1/2"'}


@pytest.fixture
def lot(client: TestClient, open_shop: OpenShop) -> str:
    """The address of a lot of twelve walnut halves."""
    answer = client.post("/stock/new", data=HALVES | {"species_id": open_shop.species()})
    assert answer.status_code == 200, answer.text
    return answer.url.path


def test_a_lot_is_added_received_counted_and_shown(client: TestClient, lot: str) -> None:
    client.post(f"{lot}/receive", data={"quantity": "4", "note": "a second delivery"})
    client.post(f"{lot}/take-out", data={"quantity": "1", "reason": "spoilt", "note": "a split"})
    page = client.post(f"{lot}/count", data={"counted": "14", "why": "one lay behind the shelf? no, burnt"})
    assert page.status_code == 200
    for words in ("+12 pieces", "+4 pieces", "−1 piece", "622.5 mm", "a second delivery"):
        assert words in page.text
    assert re.search(r"On hand</dt><dd>14 pieces", page.text)
    assert "14 pieces" in client.get("/stock?kind=halves").text
    assert lot not in client.get("/stock?kind=glue").text


def test_the_caution_of_the_wood_is_shown_on_its_lot(client: TestClient, open_shop: OpenShop) -> None:
    species = open_shop.species("African blackwood")
    page = client.post("/stock/new", data=HALVES | {"species_id": species}).text
    assert "CITES" in page
    assert "sensitise" in page


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("name", "", "Please fill this in"),
        ("name", "x" * 121, "at most 120"),
        ("kind", "chairs", "Choose one of the list"),
        ("unit", "bucket", "Choose one of the list"),
        ("quantity", "a few", "Write a number"),
        ("quantity", "0", "more than 0"),
        ("quantity", "nan", "Write a number"),
        ("quantity", "inf", "Write a number"),
        ("quantity", "1e99", "or less"),
        ("quantity", "1.5", "whole numbers"),
        ("length", "as long as my arm", "Write a length"),
        ("length", "-3", "Must be between 0.1 mm and 6096 mm"),
        ("moisture", "200", "Must be 60"),
        ("unit_cost", "cheap", "Write an amount"),
        ("unit_cost", "1.234", "2 decimals"),
        ("species_id", "99999", "Choose one of the list"),
        ("species_id", "99999999999999999999", "or less"),
        ("species_id", "", "Choose the wood"),
    ],
)
def test_a_new_lot_says_what_is_wrong_at_the_field(
    client: TestClient, open_shop: OpenShop, field: str, typed: str, says: str
) -> None:
    answer = client.post("/stock/new", data=HALVES | {"species_id": open_shop.species(), field: typed})
    assert answer.status_code == 422
    message = re.search(rf'id="f-{field}-wrong">(.*?)</span>', answer.text, re.DOTALL)
    assert message is not None
    assert says in message[1]
    if field != "name":
        assert 'value="walnut, plank of March"' in answer.text


def test_a_count_that_differs_asks_why_and_keeps_the_count(client: TestClient, lot: str) -> None:
    answer = client.post(f"{lot}/count", data={"counted": "10"})
    assert answer.status_code == 422
    assert 'id="count-f-why-wrong"' in answer.text
    assert re.search(r'name="counted" type="text"\s+value="10"', answer.text)


def test_a_movement_is_corrected_once(client: TestClient, lot: str) -> None:
    movement = re.search(rf'href="{lot}/correct/(\d+)"', client.get(lot).text)
    assert movement is not None
    address = f"{lot}/correct/{movement[1]}"
    assert client.post(address, data={"quantity": "10", "why": ""}).status_code == 422
    page = client.post(address, data={"quantity": "10", "why": "two were cherry"})
    assert page.url.path == lot
    assert "corrected to +10 pieces" in page.text
    assert client.post(address, data={"quantity": "10", "why": "again"}).status_code == 422
    correction = max(int(n) for n in re.findall(r'id="movement-(\d+)"', page.text))
    refused = client.post(f"{lot}/correct/{correction}", data={"quantity": "1", "why": "x"})
    assert refused.status_code == 409


def test_the_same_form_sent_twice_counts_once(client: TestClient, lot: str) -> None:
    sent = {"quantity": "4", "once": "the-same-key-twice"}
    client.post(f"{lot}/receive", data=sent)
    page = client.post(f"{lot}/receive", data=sent)
    assert re.search(r"On hand</dt><dd>16 pieces", page.text)


def test_the_label_is_changed_and_the_change_recorded(client: TestClient, lot: str) -> None:
    assert 'value="622.3 mm"' in client.get(f"{lot}/label").text
    page = client.post(f"{lot}/label", data={"name": "walnut, wide", "length": "622.3 mm", "place": "bin 4"})
    assert "Place: was nothing, is now bin 4" in page.text
    assert client.post(f"{lot}/label", data={"name": ""}).status_code == 422


def test_woods_are_added_and_changed(client: TestClient, open_shop: OpenShop) -> None:
    wood = {"name": "pear", "colour": "#c99a6b", "what_to_check": "Nothing known."}
    assert "pear" in client.post("/stock/woods/new", data=wood).text
    assert "of that name already" in client.post("/stock/woods/new", data=wood).text
    bad = client.post("/stock/woods/new", data=wood | {"name": "plum", "colour": "brown"})
    assert bad.status_code == 422
    species = open_shop.species("pear")
    changed = client.post(f"/stock/woods/{species}", data=wood | {"sensitising": "on"})
    assert "dust sensitises" in changed.text
    assert "Sensitising: was no, is now yes" in client.get(f"/stock/woods/{species}").text


@pytest.mark.parametrize(
    "address", ["/stock/999", "/stock/99999999999999999999", "/stock/x", "/stock/-1", "/stock/woods/999"]
)
def test_what_does_not_exist_is_not_found(client: TestClient, address: str) -> None:
    assert client.get(address).status_code == 404


def test_someone_who_may_only_look_sees_no_buttons_and_changes_nothing(client: TestClient, lot: str) -> None:
    signed_in(client, "kit")
    for address in ("/stock", lot, "/stock/woods"):
        page = client.get(address)
        assert page.status_code == 200
        main = page.text.split("<main")[1]
        assert "<form" not in main
        assert "/stock/new" not in main
        assert '/label"' not in main
    for address in ("/stock/new", f"{lot}/label", "/stock/woods/new", "/stock/woods/1", "/stock/count"):
        assert client.get(address).status_code == 403
    assert client.post(f"{lot}/receive", data={"quantity": "1"}).status_code == 403
    assert client.post("/stock/new", data={}).status_code == 403
