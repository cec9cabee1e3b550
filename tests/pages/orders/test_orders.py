"""The order screens: taking an order on one page, changing it, and what is refused."""

import re

import pytest
from fastapi.testclient import TestClient

from tests.pages.orders.reading import flat, version
from tests.shops import OpenShop, signed_in

TAKE = {
    "customer_name": "Zoë Marlow",
    "contact": "zoe@example.org",
    "key": "F#4",
    "scale": "minor pentatonic",
    "holes": "6",
    "a4": "440",
    "temperament": "equal",
    "reach": "190 mm",
    "extras": "a plain block, a bag",
    "extras_price": "0",
    "price": "280.50",
    "count": "2",
    "status": "confirmed",
    "due_on": "2030-03-31",
    "note": "wants to hear it first",
}


@pytest.fixture
def order(client: TestClient, open_shop: OpenShop) -> str:
    """The address of a confirmed order for two flutes in F sharp."""
    answer = client.post("/orders/new", data=TAKE | {"species_id": open_shop.species()})
    assert answer.status_code == 200, answer.text
    return answer.url.path


def wrong(page: str, field: str) -> str:
    found = re.search(rf'id="f-{field}-wrong">(.*?)</span>', page, re.DOTALL)
    assert found is not None, f"nothing is said at {field}"
    return found[1]


def test_an_order_is_taken_on_one_page_and_shows_what_was_agreed(client: TestClient, order: str) -> None:
    page = client.get(order).text
    for words in ("Zoë Marlow", "F♯4 minor pentatonic", "Flute 2", "190 mm", "€561.00", "31 Mar 2030", "a plain block"):
        assert words in page
    assert "Choose a pattern for flutes 1 and 2." in page
    assert "Order 1" in client.get("/orders?show=confirmed").text
    assert "2 × F♯4" in client.get("/orders").text
    assert order not in client.get("/orders?show=ready").text
    assert order not in client.get("/orders?show=due").text


@pytest.mark.parametrize("typed", ["F#4", "f♯4", "Gb4", "g♭4", " F # 4 ", "C4", "c6", "B5"])
def test_a_key_is_understood_however_it_is_written(client: TestClient, open_shop: OpenShop, typed: str) -> None:
    assert client.post("/orders/new", data=TAKE | {"species_id": open_shop.species(), "key": typed}).status_code == 200


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("customer_name", "", "fill this in"),
        ("customer_name", "x" * 121, "at most 120"),
        ("contact", "x" * 201, "at most 200"),
        ("key", "", "fill this in"),
        ("key", "H4", "a note from G3 to C6"),
        ("key", "F#3", "a note from G3 to C6"),
        ("key", "C#6", "a note from G3 to C6"),
        ("key", "A", "a note from G3 to C6"),
        ("key", "A4; drop table", "a note from G3 to C6"),
        ("scale", "whole tone", "Choose one of the list"),
        ("holes", "7", "Choose five or six"),
        ("holes", "six", "Choose five or six"),
        ("a4", "800", "between 390 and 470 Hz"),
        ("a4", "nan", "between 390 and 470 Hz"),
        ("a4", "high", "Write a number"),
        ("temperament", "meantone", "Choose one of the list"),
        ("species_id", "", "fill this in"),
        ("species_id", "31337", "Choose one of the list"),
        ("species_id", "walnut", "Write a whole number"),
        ("reach", "wide", "Write a length"),
        ("reach", "2 mm", "Must be between 60 mm and 400 mm"),
        ("price", "a lot", "Write an amount"),
        ("price", "-5", "0 or more"),
        ("price", "", "Write the price"),
        ("price", "1e30", "too large"),
        ("count", "0", "1 or more"),
        ("count", "51", "50 or less"),
        ("count", "two", "Write a whole number"),
        ("status", "handed over", "Choose one of the list"),
        ("due_on", "", "needs a date"),
        ("due_on", "soon", "Write a date"),
        ("due_on", "2030-02-30", "Write a date"),
        ("due_on", "2001-01-01", "before the order was taken"),
        ("due_on", "9999-01-01", "years ahead"),
        ("extras", "x" * 1001, "at most 1000"),
        ("note", "x" * 2001, "at most 2000"),
    ],
)
def test_what_is_wrong_stands_at_its_field_and_nothing_is_typed_twice(
    client: TestClient, open_shop: OpenShop, field: str, typed: str, says: str
) -> None:
    answer = client.post("/orders/new", data=TAKE | {"species_id": open_shop.species(), field: typed})
    assert answer.status_code == 422
    assert says in wrong(answer.text, field)
    kept = "key" if field != "key" else "customer_name"
    assert f'value="{TAKE[kept]}"' in answer.text
    assert client.get("/orders/1").status_code == 404


def test_an_enquiry_needs_neither_price_nor_date(client: TestClient, open_shop: OpenShop) -> None:
    sent = TAKE | {"species_id": open_shop.species(), "status": "enquiry", "price": "", "due_on": ""}
    page = client.post("/orders/new", data=sent)
    assert "Agree a price for each flute." in page.text
    refused = client.post(f"{page.url.path}/confirm", data={"version": version(page.text)})
    assert refused.status_code == 409
    assert "has no price yet" in refused.text


def test_someone_known_is_found_as_one_types_and_not_entered_twice(client: TestClient, order: str) -> None:
    for typed in ("zoe", "MARL", "marlow zo"):
        part = client.get("/orders/customers-like", params={"customer_name": typed}).text
        assert "Zoë Marlow" in part
        assert "<html" not in part
    assert "Zoë" not in client.get("/orders/customers-like", params={"customer_name": "%"}).text
    for typed, kept in (("zo", True), ("bob", False)):
        part = client.get("/orders/customers-like", params={"customer_name": typed, "customer_id": "1"}).text
        assert (" checked" in part) == kept
    again = TAKE | {"species_id": "1", "customer_name": "zoe marlow"}
    unsure = client.post("/orders/new", data=again)
    assert unsure.status_code == 422
    assert "Someone of this name is known here" in wrong(unsure.text, "customer_id")
    same = client.post("/orders/new", data=again | {"customer_id": "1"})
    assert same.url.path == "/orders/2"
    assert "Order 1" in client.get("/customers/1").text
    assert "Order 2" in client.get("/customers/1").text
    other = client.post("/orders/new", data=again | {"customer_id": "new"})
    assert 'href="/customers/2"' in other.text


@pytest.mark.parametrize("customer_id", ["99", "99999999999999999999", "nobody", "-1"])
def test_a_customer_who_is_not_there_cannot_be_chosen(
    client: TestClient, open_shop: OpenShop, customer_id: str
) -> None:
    answer = client.post("/orders/new", data=TAKE | {"species_id": open_shop.species(), "customer_id": customer_id})
    assert answer.status_code == 422
    assert "Choose one of the list" in wrong(answer.text, "customer_id")


def test_a_change_is_written_down_in_words(client: TestClient, order: str) -> None:
    form = client.get(f"{order}/edit").text
    page = client.post(
        f"{order}/edit", data={"version": version(form), "due_on": "2030-04-15", "note": "", "why": "ill"}
    )
    assert "Due: was 31 Mar 2030, is now 15 Apr 2030" in page.text
    assert "Note: was wants to hear it first, is now nothing" in page.text
    flute = re.search(rf'href="({order}/flutes/\d+)"', page.text)
    assert flute is not None
    form = client.get(flute[1]).text
    assert 'value="190.0 mm"' in form
    changed = TAKE | {
        "species_id": "2",
        "key": "G4",
        "reach": "200",
        "price": "300",
        "why": "w",
        "version": version(form),
    }
    page = client.post(flute[1], data=changed)
    assert "Flute 1, key: was F♯4, is now G4" in page.text
    assert "Flute 1, reach: was 190 mm, is now 200 mm" in page.text
    assert "Flute 1, price: was 280.50, is now 300.00" in page.text
    assert "Flute 1, wood: was black walnut, is now" in page.text


def test_a_stale_edit_is_refused_with_both_versions_shown(client: TestClient, order: str) -> None:
    first = version(client.get(f"{order}/edit").text)
    client.post(f"{order}/edit", data={"version": first, "due_on": "2030-04-15", "note": "theirs", "why": "a"})
    mine = client.post(f"{order}/edit", data={"version": first, "due_on": "2030-05-20", "note": "mine", "why": "b"})
    assert mine.status_code == 409
    assert "Due: it now says “2030-04-15”, yours says “2030-05-20”" in mine.text
    assert 'value="2030-05-20"' in mine.text
    assert "theirs" in mine.text
    assert "theirs" in client.get(order).text
    client.post(
        f"{order}/edit", data={"version": version(mine.text), "due_on": "2030-05-20", "note": "mine", "why": "b"}
    )
    assert "20 May 2030" in client.get(order).text


def test_a_stale_flute_shows_what_it_says_now_beside_what_was_typed(client: TestClient, order: str) -> None:
    address = re.findall(rf'href="({order}/flutes/\d+)"', client.get(order).text)[0]
    first = version(client.get(address).text)
    theirs = client.post(address, data=TAKE | {"species_id": "1", "key": "G4", "version": first, "why": "c"})
    assert theirs.status_code == 200
    mine = client.post(address, data=TAKE | {"species_id": "2", "key": "A4", "version": first})
    assert mine.status_code == 409
    assert "Key: it now says “G4”, yours says “A4”." in flat(mine.text)
    assert re.search(r"Wood: it now says “[a-z ]+”, yours says “[a-z ]+”", flat(mine.text)), "by name"
    assert "Scale: it now says" not in flat(mine.text), "only what differs"
    again = TAKE | {"species_id": "1", "key": "A4", "version": version(mine.text), "why": "d"}
    assert "A4 minor pentatonic" in client.post(address, data=again).text


def test_an_order_goes_its_way_and_no_other(client: TestClient, open_shop: OpenShop) -> None:
    sent = TAKE | {"species_id": open_shop.species(), "status": "enquiry"}
    page = client.post("/orders/new", data=sent)
    address = page.url.path
    early = client.post(f"{address}/hand-over", data={"version": version(page.text)})
    assert early.status_code == 409
    assert "every flute is finished" in early.text
    page = client.post(f"{address}/quote", data={"version": version(page.text)})
    stale = client.post(f"{address}/confirm", data={"version": "1"})
    assert stale.status_code == 409
    assert "Someone else changed this" in stale.text
    page = client.post(f"{address}/confirm", data={"version": version(page.text)})
    assert "Confirmed" in page.text
    assert client.post(f"{address}/quote", data={"version": version(page.text)}).status_code == 409
    late = client.post(f"{address}/withdraw", data={"version": "1", "why": "a second thought"})
    assert late.status_code == 409
    assert "Someone else changed this order" in late.text and 'value="a second thought"' in flat(late.text)
    no_reason = client.post(f"{address}/withdraw", data={"version": version(page.text), "why": ""})
    assert no_reason.status_code == 422
    assert "fill this in" in wrong(no_reason.text, "why")
    page = client.post(f"{address}/withdraw", data={"version": version(page.text), "why": "moved away"})
    assert "moved away" in page.text
    assert "<form" not in page.text.split("<main")[1]
    assert client.post(f"{address}/paint", data={"version": "1"}).status_code == 404
    assert client.post(f"{address}/confirm", data={}).status_code == 422


def test_a_further_flute_is_added_and_left_out_again(client: TestClient, order: str) -> None:
    form = client.get(f"{order}/flutes/new").text
    assert 'value="190.0 mm"' in form
    further = TAKE | {"species_id": "3", "key": "Bb4", "version": version(form)}
    unsaid = client.post(f"{order}/flutes/new", data=further)
    assert unsaid.status_code == 422
    assert "say why it changes" in wrong(unsaid.text, "why")
    page = client.post(f"{order}/flutes/new", data=further | {"why": "one for a friend"})
    assert "Flute 4: B♭4" in page.text
    bad = client.post(f"{order}/flutes/new", data=TAKE | {"species_id": "3", "key": "Z", "version": version(page.text)})
    assert bad.status_code == 422
    leave = re.findall(rf'href="({order}/flutes/\d+/leave-out)"', page.text)
    for address in leave[1:]:
        page = client.post(address, data={"version": version(client.get(address).text), "why": "too many"})
        assert page.status_code == 200
    assert "<h2>Flute 2:" not in page.text and "<h2>Flute 1:" in page.text
    assert "No longer as order confirmation 1 says." in page.text, "what was taken off stands there to be told"
    refused = client.post(leave[0], data={"version": version(page.text)})
    assert refused.status_code == 409
    assert "only flute" in refused.text


def test_a_customer_is_changed_and_a_stale_change_refused(client: TestClient, order: str) -> None:
    page = client.post("/customers/1/edit", data={"name": "Zoë Marlow-Reed", "contact": "", "version": "1"})
    assert "Name: was Zoë Marlow, is now Zoë Marlow-Reed" in page.text
    stale = client.post("/customers/1/edit", data={"name": "Zoe M", "version": "1"})
    assert stale.status_code == 409
    assert "Zoë Marlow-Reed" in stale.text
    assert 'value="Zoe M"' in stale.text
    assert client.post("/customers/1/edit", data={"name": "", "version": "2"}).status_code == 422
    assert "Zoë Marlow-Reed" in client.get("/customers?name=reed").text
    assert "Zoë" not in client.get("/customers?name=nobody").text


@pytest.mark.parametrize(
    "address",
    [
        "/orders/2",
        "/orders/0",
        "/orders/99999999999999999999",
        "/orders/one",
        "/orders/1/flutes/99",
        "/customers/9",
        "/customers/99999999999999999999/edit",
        "/orders/new?customer=99",
        "/orders/new?customer=" + "9" * 5000,
        "/orders/new?customer=x",
    ],
)
def test_what_does_not_exist_is_not_found(client: TestClient, order: str, address: str) -> None:
    assert client.get(address).status_code == 404


def test_odd_filters_show_something_sensible(client: TestClient, order: str) -> None:
    for query in ("show=nonsense", "page=0", "page=-3", "page=x", "page=99999999", "page=7"):
        assert client.get(f"/orders?{query}").status_code == 200


def test_someone_who_may_only_look_sees_no_buttons_and_changes_nothing(client: TestClient, order: str) -> None:
    signed_in(client, "kit")
    for address in (order, "/orders", "/customers/1"):
        main = client.get(address).text.split("<main")[1]
        assert "<form" not in main
        assert "/new" not in main
        assert "/edit" not in main
    for address in ("/orders/new", f"{order}/edit", f"{order}/flutes/1", f"{order}/flutes/new", "/customers/1/edit"):
        assert client.get(address).status_code == 403
        assert client.post(address, data=TAKE).status_code == 403
    for move in ("quote", "confirm", "withdraw", "hand-over"):
        assert client.post(f"{order}/{move}", data={"version": "1", "why": "x"}).status_code == 403
