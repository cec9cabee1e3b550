"""Several blanks ticked on the rack or scanned: their next step in one form."""

import re

from fastapi.testclient import TestClient
from sqlmodel import col, func, select

from tests import blanks as made
from tests.shops import OpenShop, signed_in
from webapp.models import Blank, StepRecord


def opened(shop: OpenShop, count: int, code: str = "") -> list[int]:
    with shop.database.write() as session:
        blanks = made.opened(session, shop.owner, count)
        for blank in blanks:
            if code:
                made.bring_to(session, shop.owner, blank, code)
        return [blank.id or 0 for blank in blanks]


def entries(shop: OpenShop) -> int:
    with shop.database.read() as session:
        return session.exec(select(func.count(col(StepRecord.id)))).one()


def form(page: str) -> dict[str, list[str]]:
    """What the page's form of steps would send: its hidden fields."""
    sent: dict[str, list[str]] = {}
    inner = re.search(r'action="/together" method="post">(.*?)</form>', page, re.S)
    assert inner
    for name, value in re.findall(r'type="hidden"\s+name="([\w-]+)"\s+value="([^"]*)"', inner[1]):
        sent.setdefault(name, []).append(value)
    return sent


def test_the_rack_offers_to_tick_and_a_step_is_passed_for_all(client: TestClient, open_shop: OpenShop) -> None:
    ids = opened(open_shop, 3)
    rack = client.get("/").text
    assert rack.count('form="together"') == 3
    page = client.get("/together", params={"blank": ids})
    assert page.status_code == 200 and "Done, all 3" in page.text
    assert "black walnut, for the shop" in page.text
    before = entries(open_shop)
    after = client.post("/together", data=form(page.text) | {"outcome": "passed"})
    assert after.url.path == "/together" and "Recorded for 3 blanks." in after.text
    assert entries(open_shop) == before + 3


def test_just_the_nominal_size_for_all_and_sizes_typed_stay(client: TestClient, open_shop: OpenShop) -> None:
    ids = opened(open_shop, 2, "bore-gauge")
    page = client.get("/together", params={"blank": ids}).text
    sent = form(page)
    first, _ = sent["step"]
    before = entries(open_shop)
    wrong = client.post("/together", data=sent | {f"value-{first}": "19.1 mm", "outcome": "passed"})
    assert wrong.status_code == 422 and "19.1 mm" in wrong.text and "Type what the gauge shows." in wrong.text
    assert entries(open_shop) == before
    done = client.post("/together", data=sent | {"just": "yes", "once": "another-key-of-this"})
    assert "Recorded for 2 blanks." in done.text and entries(open_shop) == before + 2


def test_what_does_not_pass_is_named(client: TestClient, open_shop: OpenShop) -> None:
    ids = opened(open_shop, 2, "bore-gauge")
    sent = form(client.get("/together", params={"blank": ids}).text)
    first, second = sent["step"]
    page = client.post("/together", data=sent | {f"value-{first}": "19.05 mm", f"value-{second}": "25 mm"})
    assert "Did not pass: 0002." in page.text


def test_one_that_someone_else_was_quicker_with_is_named(client: TestClient, open_shop: OpenShop) -> None:
    ids = opened(open_shop, 2)
    sent = form(client.get("/together", params={"blank": ids}).text)
    with open_shop.database.write() as session:
        other = session.get(Blank, ids[1])
        assert other is not None
        made.passed(session, open_shop.maker, other, "halves")
    before = entries(open_shop)
    page = client.post("/together", data=sent | {"outcome": "passed"})
    assert page.status_code == 409 and "Nothing was recorded." in page.text and "already recorded by Tam" in page.text
    assert entries(open_shop) == before


def test_scanned_one_after_another(client: TestClient, open_shop: OpenShop) -> None:
    ids = opened(open_shop, 2)
    page = client.get("/scan", params={"together": "0", "serial": "0001"}, follow_redirects=False)
    assert page.headers["location"] == f"/together?blank={ids[0]}"
    page = client.get("/scan", params={"together": str(ids[0]), "serial": "0002"}, follow_redirects=False)
    assert page.headers["location"] == f"/together?blank={ids[0]}&blank={ids[1]}"
    both = client.get("/together?serial=0001&serial=0002&serial=0001").text
    assert "2 blanks at once" in both
    unknown = client.get("/together?serial=0001&serial=none")
    assert unknown.status_code == 422 and "no serial has that in it" in unknown.text


def test_nonsense_and_those_who_may_not(client: TestClient, open_shop: OpenShop) -> None:
    ids = opened(open_shop, 1)
    assert client.get("/together").status_code == 200
    assert client.get("/together?blank=x&blank=99999999999999999999").status_code in (200, 404)
    assert client.post("/together", data={"blank": ids, "step": ["x"]}).status_code == 422
    assert client.post("/together", data={"blank": ids, "step": ["999999"]}).status_code == 404
    assert client.post("/together", data={"blank": ids, "step": ["9" * 30]}).status_code == 422
    viewer = signed_in(client, "kit")
    assert viewer.post("/together", data={"blank": ids, "step": ["1"]}).status_code == 403
    assert 'form="together"' not in viewer.get("/").text
