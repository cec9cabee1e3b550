"""The page of a flute as whoever has its address sees it, without an account; and what stands in its way."""

import re

from fastapi.testclient import TestClient

from tests import blanks as made
from tests.pages.orders.reading import version
from tests.paper.reading import codes, picture, text
from tests.shops import OpenShop, signed_in
from webapp.models import BlankStatus, Stage, now


def finished(open_shop: OpenShop) -> str:
    with open_shop.database.write() as session:
        [blank] = made.opened(session, open_shop.maker, flute_id=made.order(session))
        blank.status, blank.stage, blank.finished_at = BlankStatus.FINISHED, Stage.FINISHING, now()
        session.add(blank)
        return blank.serial


def test_the_owner_switches_it_on_and_the_flutes_papers_carry_its_code(client: TestClient, open_shop: OpenShop) -> None:
    serial = finished(open_shop)
    assert client.get(f"/blanks/{serial}/label.pdf").status_code == 409
    page = client.get("/shop/flute-pages")
    sent = {"is_open": "on", "warranty": "Two years\non the making.", "version": version(page.text)}
    assert "Switched on" in client.post("/shop/flute-pages", data=sent).text
    found = re.search(r'href="(/flute/[\w-]+)"', client.get(f"/blanks/{serial}").text)
    assert found
    label = client.get(f"/blanks/{serial}/label.pdf").content
    assert codes(picture(label, 0)) == [f"http://testserver{found[1]}"]
    tuning = client.get(f"/blanks/{serial}/tuning.pdf").content
    assert codes(picture(tuning, 0)) == [f"http://testserver{found[1]}"]
    client.cookies.clear()
    seen = client.get(found[1])
    assert seen.status_code == 200
    assert "black walnut" in seen.text and "Fingering" in seen.text and "Two years\non the making." in seen.text
    assert "Rosa" not in seen.text and "Lindqvist" not in seen.text
    assert seen.headers["x-robots-tag"].startswith("noindex") and seen.headers["cache-control"] == "no-store"
    assert text(label)


def test_too_long_a_text_comes_back_with_what_was_typed_and_others_may_not(client: TestClient) -> None:
    answer = client.post("/shop/flute-pages", data={"warranty": "w" * 2001, "version": "0"})
    assert answer.status_code == 422 and "w" * 2001 in answer.text
    signed_in(client, "bo")
    assert client.get("/shop/flute-pages").status_code == 403
