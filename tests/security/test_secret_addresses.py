"""Guessing at a customer's page or at a calendar: every address that does not work gives the same answer.

Each is 256 random bits, so guesses are not counted (webapp/shop/people/guesses.py says why); what an answer must not
do is tell an address that once worked from one that never did.
"""

import re

import pytest
from fastapi.testclient import TestClient

from tests import blanks as made
from tests.shops import OpenShop, signed_in
from webapp.models import BlankStatus, Stage

NEVER = ["x" * 43, "x", "nothing", "x" * 4000, "%00", "%FF%FE", "%ED%A0%80", "a%0Ab", "%F0%9F%8E%B6", "'%20OR%201=1--"]


def said(browser: TestClient, address: str) -> tuple[int, str, dict[str, str]]:
    answer = browser.get(address)
    own = {"date", "x-request-mark"}
    headers = {name: value for name, value in answer.headers.items() if name not in own}
    return answer.status_code, answer.text, headers


@pytest.mark.parametrize("kind", ["status", "calendar", "flute"])
def test_an_address_that_worked_is_not_told_from_one_that_never_did(
    client: TestClient, open_shop: OpenShop, kind: str
) -> None:
    with open_shop.database.write() as session:
        [blank] = made.opened(session, open_shop.maker, flute_id=made.order(session))
        blank.status, blank.stage = BlankStatus.FINISHED, Stage.FINISHING
        session.add(blank)
    if kind == "flute":
        client.post("/shop/flute-pages", data={"is_open": "on", "version": "0"})
        opened = client.get(f"/blanks/{blank.serial}")
        found = re.search(r'href="(/flute/\d+-[\w-]{32})"', opened.text)
        ending, close, form = "", "/shop/flute-pages", {"version": "1"}
    elif kind == "status":
        opened = client.post("/orders/1/status-page", data={"version": "2"})
        found = re.search(r"testserver(/status/[\w-]{43})", opened.text)
        ending, close, form = "", "/orders/1/status-page/close", {"version": "3"}
    else:
        opened = client.post("/me/calendar", data={})
        found = re.search(r"testserver(/calendar/[\w-]{43}\.ics)", opened.text)
        ending, close, form = ".ics", "/me/calendar/close", {}
    assert found, opened.text
    client.cookies.clear()
    works = said(client, found[1])
    assert works[0] == 200
    never = said(client, f"/{kind}/{NEVER[0]}{ending}")
    assert never[0] == 404
    for text in NEVER[1:]:
        assert said(client, f"/{kind}/{text}{ending}") == never, text
    assert signed_in(client, "ines").post(close, data=form).status_code == 200
    client.cookies.clear()
    assert said(client, found[1]) == never
