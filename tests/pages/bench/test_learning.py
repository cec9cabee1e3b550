"""The screen of what the shop has learned, and what the bench makes of it."""

import re

from fastapi.testclient import TestClient

from tests.pages.bench.test_bench import ASKED, HERE, bring
from tests.shop.learning.test_learning import finish
from tests.shops import OpenShop, signed_in
from webapp.shop.learning import corrections

SCREEN = "/shop/learning"


def words(client: TestClient, address: str) -> str:
    """The page in one line, wherever its template breaks its own."""
    return " ".join(client.get(address).text.split())


def test_flutes_are_left_out_and_the_learning_is_reset(client: TestClient, open_shop: OpenShop) -> None:
    page = words(client, SCREEN)
    assert "Nothing yet" in page and "stated wide assumptions" in page and "0 ± 3.00" in page
    assert client.get(f"{SCREEN}/flutes/99").status_code == 404 and client.get(f"{SCREEN}/resets/99").status_code == 404
    [one] = finish(open_shop, 1)
    corrections.bring_up(open_shop.database)
    page = words(client, SCREEN)
    assert "From 1 finished flute" in page and "Pattern in A4" in page
    assert "Flutes it learns from" in page and "Rests on" in client.get(HERE).text

    assert client.post(f"{SCREEN}/flutes/{one}", data={"why": ""}).status_code == 422
    assert client.post(f"{SCREEN}/flutes/{one}", data={"why": "another window"}).status_code == 200
    corrections.bring_up(open_shop.database)
    page = words(client, SCREEN)
    assert "Nothing yet" in page and "another window" in page and "Take in again" in page
    assert client.post(f"{SCREEN}/flutes/{one}", data={"why": "again"}).status_code == 409
    assert "Flutes it learns from" not in page
    client.post(f"{SCREEN}/flutes/{one}", data={"counts": "yes"})
    corrections.bring_up(open_shop.database)

    assert client.post(f"{SCREEN}/resets", data={"why": ""}).status_code == 422
    client.post(f"{SCREEN}/resets", data={"why": "a new jig"})
    corrections.bring_up(open_shop.database)
    page = words(client, SCREEN)
    link = re.search(rf'href="({SCREEN}/resets/\d+)"', page)
    assert "Nothing yet" in page and "a new jig" in page and link
    assert "a new jig" in client.get(link[1]).text
    assert client.post(link[1], data={}).status_code == 422
    client.post(link[1], data={"why": "it made no difference"})
    assert client.post(link[1], data={"why": "again"}).status_code == 409
    corrections.bring_up(open_shop.database)
    assert "From 1 finished flute" in words(client, SCREEN)

    viewer = signed_in(client, "kit")
    page = words(viewer, SCREEN)
    assert "From 1 finished flute" in page and "Leave out" not in page and "Start again from today" not in page
    assert viewer.post(f"{SCREEN}/resets", data={"why": "no"}).status_code == 403
    assert viewer.post(f"{SCREEN}/flutes/{one}", data={"why": "no"}).status_code == 403


def test_voicing_predicts_the_end_and_old_readings_are_marked(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "fundamental")
    page = client.get(HERE).text
    assert "not read" in page and "Finger holes: closed" in page
    page = client.post(f"{HERE}/readings", data=ASKED).text
    assert "It will come to" in page and "within the 5 to 10 low of common practice" in page
    # At voicing the foot may be shortened, and nothing else.
    foot = re.search(r"Foot from ([\d.]+) mm", page)
    assert foot
    page = client.post(f"{HERE}/cuts", data={"control": "0", "size": f"{float(foot[1]) - 2:.2f}"}).text
    assert "1 cut so far" in page and "since then cut: the foot" in page
    assert client.post(f"{HERE}/cuts", data={"control": "6", "size": "6.9"}).status_code == 409


def test_the_drills_on_the_rack_or_any_size(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "tuned")
    assert "Keep to the drills instead" in client.get(HERE).text
    page = client.post(f"{HERE}/way", data={"way": "drills"}).text
    assert "in steps of the drills" in page and "Any size instead" in page
    client.post(f"{HERE}/readings", data=ASKED)
    page = client.post(f"{HERE}/cuts", data={"control": "6", "size": "6.9"}).text
    assert "since then cut: hole 6" in page and "A dashed bar is old" in page
    assert "Keep to the drills" in client.post(f"{HERE}/way", data={"way": "freely"}).text
    assert signed_in(client, "kit").post(f"{HERE}/way", data={"way": "drills"}).status_code == 403
