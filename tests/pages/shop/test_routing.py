"""The pages of routings, by their forms alone, and htmx's shortcut."""

import re

from fastapi.testclient import TestClient
from sqlmodel import select

from tests import blanks as made
from tests.shops import OpenShop, signed_in
from webapp.models import Pattern, Routing
from webapp.shop.routings import rules as routings

HTMX = {"hx-request": "true"}


def codes(page: str) -> list[str]:
    return re.findall(r'<li id="step-([^"]+)"', page)


def test_a_routing_is_made_changed_and_chosen(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        made.opened(session, open_shop.maker)
        usual = session.exec(select(Routing.id)).one()
        pattern = session.exec(select(Pattern.id)).one()
    assert "Two halves, milled and glued" in client.get("/shop/routings").text
    assert client.post("/shop/routings", data={"name": ""}).status_code == 422
    page = client.post("/shop/routings", data={"name": "Bored from the solid", "copy_of": usual, "note": "One piece."})
    own = str(page.url).rsplit("/", 1)[1]
    here = f"/shop/routings/{own}"
    before = codes(page.text)
    assert before[:3] == ["halves", "bore", "flaws"]

    # Up and down, with and without htmx.
    page = client.post(f"{here}/steps/flaws/up")
    assert codes(page.text)[:3] == ["halves", "flaws", "bore"] and "<html" in page.text
    part = client.post(f"{here}/steps/flaws/down", headers=HTMX)
    assert codes(part.text) == before and part.text.lstrip().startswith('<div id="steps"')

    # A gauge, its limits typed in this person's millimetres.
    step = {"name": "Wall gauged", "stage": "boring", "after": "bore-gauge", "kind": "gauge", "gauge": "Wall: calipers"}
    page = client.post(f"{here}/steps/new", data={**step, "of": "wall", "under": "thin"})
    assert page.status_code == 422 and "Write a length" in page.text and 'value="thin"' in page.text
    page = client.post(f"{here}/steps/new", data={**step, "of": "wall", "under": "0.2", "over": "0,4", "photo": "on"})
    assert "the finished wall, up to 0.2 mm less or 0.4 mm more" in page.text and "A picture is asked for" in page.text
    code = codes(page.text)[codes(page.text).index("bore-gauge") + 1]
    form = client.get(f"{here}/steps/{code}").text
    assert 'value="0.4 mm"' in form and "Wall: calipers" in form

    # Two people at once: the second sees both versions.
    seen = re.search(r'name="seen" value="([^"]+)"', form)
    assert seen
    fresh = {**step, "after": "", "of": "wall", "seen": seen[1]}
    assert client.post(f"{here}/steps/{code}", data={**fresh, "name": "Wall measured"}).status_code == 200
    page = client.post(f"{here}/steps/{code}", data={**fresh, "name": "Wall read"})
    assert page.status_code == 409 and "Wall measured" in page.text and "Wall read" in page.text

    page = client.post(f"{here}/steps/glue-up/remove")
    assert page.status_code == 409 and "no glue-up comes before it" in page.text
    assert client.post(f"{here}/steps/nothing/remove").status_code == 404
    assert "Removed." in client.post(f"{here}/steps/{code}/remove").text
    assert codes(client.get(here).text) == before

    # A pattern goes by it; its sizes stand beside the steps.
    page = client.get(f"/patterns/{pattern}/routing").text
    assert "Bore gauged" in page and "19.05 mm" in page
    assert client.post(f"/patterns/{pattern}/routing", data={"routing_id": "999"}).status_code == 422
    assert "Bored from the solid</a></h2>" in client.post(f"/patterns/{pattern}/routing", data={"routing_id": own}).text
    assert client.post(f"{here}/put-away").status_code == 409
    with open_shop.database.write() as session:
        made.opened(session, open_shop.maker)
    client.post(f"{here}/steps/flaws/up")
    page = client.get(here).text
    assert "version 2" in " ".join(page.split()) and "1 blank opened from it" in page
    assert (
        codes(client.get(f"{here}/versions/1").text) == [] and "Bores milled" in client.get(f"{here}/versions/1").text
    )
    assert codes(client.post(f"{here}/versions/1/bring-back").text) == before
    assert client.get(f"{here}/versions/9").status_code == 404
    assert client.post(f"{here}/usual").status_code == 200
    client.post(f"/patterns/{pattern}/routing", data={"routing_id": "usual"})
    assert client.post(f"/shop/routings/{usual}/put-away").status_code == 200
    assert client.post(here, data={"name": "From the solid"}).status_code == 200
    with open_shop.database.read() as session:
        assert next(one.routing.name for one in routings.listed(session)) == "From the solid"

    viewer = signed_in(client, "kit")
    page = viewer.get(here)
    assert page.status_code == 200 and page.text.split("<main", 1)[1].count('method="post"') == 0
    assert viewer.post(f"{here}/steps/flaws/up").status_code == 403
    assert viewer.get(f"{here}/steps/flaws").status_code == 403
