"""Search: everything is found again by serial, order, customer, key, wood and pattern."""

import re

import pytest
from fastapi.testclient import TestClient

from tests.pages.orders.test_orders import TAKE
from tests.shops import OpenShop, signed_in


@pytest.fixture
def serial(client: TestClient, open_shop: OpenShop) -> str:
    """The serial of a blank in F sharp, for order 1 of Zoë Marlow, from a pattern called 'low one'."""
    sent = TAKE | {"species_id": open_shop.species(), "count": "1"}
    page = client.post("/orders/new", data=sent)
    flute = re.search(r'href="(/orders/1/flutes/\d+)/pattern"', page.text)
    assert flute is not None
    client.post(f"{flute[1]}/design", data={"version": "1", "name": "low one", "reach": "200 mm"})
    page = client.post(f"{flute[1]}/wood", data={"item_id": "none", "count": "1"})
    found = re.search(r'href="/blanks/([^"/]+)"', page.text)
    assert found is not None
    client.post("/stock/new", data={"kind": "glue", "name": "bottle of hide", "unit": "ml", "quantity": "250"})
    return found[1]


def links(client: TestClient, typed: str) -> set[str]:
    page = client.get("/search", params={"q": typed}, headers={"HX-Request": "true"})
    assert page.status_code == 200
    assert "<html" not in page.text
    return set(re.findall(r'href="(/(?:blanks|orders|customers|patterns|stock)/[^"]+)"', page.text))


def test_a_whole_serial_or_order_number_leads_straight_there(client: TestClient, serial: str) -> None:
    for typed, to in ((serial, f"/blanks/{serial}"), ("order 1", "/orders/1"), ("#1", "/orders/1"), ("1", "/orders/1")):
        answer = client.get("/search", params={"q": typed}, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, to)
    assert client.get("/search", params={"q": "2"}, follow_redirects=False).status_code == 200


def test_everything_is_found_by_what_it_goes_by(client: TestClient, serial: str) -> None:
    blank, order, customer, pattern = f"/blanks/{serial}", "/orders/1", "/customers/1", "/patterns/1"
    assert links(client, serial[:-1]) >= {blank}
    assert links(client, "zoe") == {blank, order, customer}
    assert links(client, "ZÖE wal") == {blank, order}
    assert links(client, "low one") >= {blank, pattern}
    assert not links(client, "zoe maple")
    for key in ("F#4", "f♯4", "Gb4", "F#", "gb"):
        assert links(client, key) == {blank, order, pattern}, key
    assert not links(client, "A4")
    assert links(client, "WALNUT") == {blank, order}
    assert links(client, "hide") == {"/stock/1"}


ODD = [
    "",
    " ",
    "%",
    "_",
    "'",
    '"',
    "\\",
    "x" * 5000,
    "9" * 30,
    "#",
    "\x00",
    "♯",
    "''",
    "zoe OR low NOT",
    "&|!:*()",
    "NEAR(",
]


def test_odd_words_find_nothing_and_break_nothing(client: TestClient, serial: str) -> None:
    for typed in (*ODD, "order", "-1"):
        assert client.get("/search", params={"q": typed}).status_code == 200
        assert not links(client, typed) or typed in ("order", "-1"), typed


def test_someone_who_may_only_look_may_search(client: TestClient, serial: str) -> None:
    signed_in(client, "kit")
    assert links(client, "zoe") >= {"/orders/1", "/customers/1"}


@pytest.mark.parametrize(
    "address",
    [
        "/orders/{}",
        "/orders/{}/edit",
        "/stock/{}",
        "/stock/woods/{}",
        "/patterns/{}",
        "/patterns/1/{}",
        "/customers/{}",
    ],
)
@pytest.mark.parametrize("number", ["9" * 5000, "9" * 20, "-1", "0", "one"])
def test_a_number_that_names_nothing_is_not_found_however_long(client: TestClient, address: str, number: str) -> None:
    assert client.get(address.format(number)).status_code == 404


def test_the_head_answers_with_a_few_of_each_kind(client: TestClient, serial: str) -> None:
    parts = {"HX-Request": "true"}
    few = client.get("/search/at-hand", params={"q": "zoe"}, headers=parts).text
    assert "<html" not in few and 'role="listbox"' in few
    assert 'href="/customers/1"' in few and 'href="/orders/1"' in few and 'href="/search?q=zoe"' in few
    assert f'href="/blanks/{serial}"' in client.get("/search/at-hand", params={"q": serial}, headers=parts).text
    assert "Nothing goes by “zzz”" in client.get("/search/at-hand", params={"q": "zzz"}, headers=parts).text
    assert client.get("/search/at-hand", params={"q": " "}, headers=parts).text.strip() == ""
    # Without scripts the same address is the page of all that was found.
    plain = client.get("/search/at-hand", params={"q": "zzz"}, follow_redirects=False)
    assert (plain.status_code, plain.headers["location"]) == (303, "/search?q=zzz")
