"""The home screen."""

import re

from fastapi.testclient import TestClient

from tests import blanks as made
from tests.shops import OpenShop, signed_in

HTMX = {"hx-request": "true"}


def test_an_empty_rack_says_what_to_do_first(client: TestClient) -> None:
    page = client.get("/")
    assert page.status_code == 200
    assert "Nothing is on the rack yet" in page.text


def test_blanks_lie_on_the_shelves_with_their_next_step(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        made.opened(session, open_shop.maker, flute_id=made.order(session))
    page = client.get("/").text
    assert 'href="/blanks/0001"' in page
    assert "0001: Halves chosen and cut" in page
    assert "Rosa Lindqvist" in page and "2 May 2031" in page
    assert page.count('class="miniature"') == 1


def test_the_page_asks_again_and_is_told_nothing_when_nothing_changed(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blank = made.opened(session, open_shop.maker)[0]
    address = re.search(r'hx-get="(/\?mark=[^"]+)"', client.get("/").text)
    assert address
    assert client.get(address[1], headers=HTMX).status_code == 204
    with open_shop.database.write() as session:
        made.passed(session, open_shop.maker, blank, "halves")
    again = client.get(address[1], headers=HTMX)
    assert again.status_code == 200
    assert again.text.lstrip().startswith('<div id="live"')
    assert "<html" not in again.text and "0001: Bores milled" in again.text
    # Someone who opens that address in a browser gets the whole page.
    assert "<html" in client.get(address[1]).text


def test_a_full_shelf_says_how_many_more_there_are(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        made.opened(session, open_shop.maker, 15)
    page = " ".join(client.get("/").text.split())
    assert "3 more at boring" in page
    assert page.count('class="miniature"') == 12


def test_someone_who_only_looks_sees_it_too(client: TestClient, open_shop: OpenShop) -> None:
    assert signed_in(client, "kit").get("/").status_code == 200


def test_nobody_sees_it_without_signing_in(open_shop: OpenShop, stranger: TestClient) -> None:
    answer = stranger.get("/", headers=HTMX, follow_redirects=False)
    assert answer.headers["hx-redirect"] == "/sign-in"
