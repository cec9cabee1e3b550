"""Boards, plans, counts, purchase list, labels and costs in the browser, from beginning to end, and refusals."""

import re

import pytest
from fastapi.testclient import TestClient

from tests import blanks as made
from tests.jobs.at_once import AtOnce
from tests.paper.reading import codes, picture, text
from tests.shops import OpenShop, signed_in
from webapp import job_kinds
from webapp.jobs import claims
from webapp.models import CuttingPlan

BOARD = {
    "kind": "board",
    "name": "walnut, wide",
    "unit": "piece",
    "quantity": "1",
    "length": "2000",
    "width": "150",
    "thickness": "27",
    "unit_cost": "60",
    "source": "a sawmill",
    "reorder_at": "2",
}


@pytest.fixture
def board(client: TestClient, open_shop: OpenShop) -> str:
    """The address of a walnut board of 2000 x 150 x 27 mm."""
    return client.post("/stock/new", data=BOARD | {"species_id": open_shop.species()}).url.path


def wrong(page: str, field: str) -> str:
    found = re.search(rf'id="(?:[a-z]+-)?f-{field}-wrong">(.*?)</span>', page, re.DOTALL)
    assert found is not None, field
    return found[1]


def test_a_board_is_read_planned_sawn_counted_and_bought(
    client: TestClient, open_shop: OpenShop, board: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Its moisture and flaws.
    assert "Must be 60" in wrong(client.post(f"{board}/moisture", data={"percent": "99"}).text, "percent")
    page = client.post(f"{board}/moisture", data={"percent": "8.4", "note": "pin meter"}).text
    assert re.search(r"Moisture</dt><dd>8.4 %", page)
    bad = client.post(f"{board}/flaws", data={"start": "500", "end": "400"})
    assert (bad.status_code, "beyond where it begins" in wrong(bad.text, "end")) == (422, True)
    page = client.post(f"{board}/flaws", data={"start": "1000", "end": "1050", "what": "knot"}).text
    flaw = re.search(rf"{board}/flaws/\d+/gone", page)
    assert flaw
    assert "knot: 1000 mm to 1050 mm, right across" in page

    # Halves to keep ready, and a plan for them; it is calculated here and now instead of in a process of its own.
    ready = {"species_id": open_shop.species(), "count": "4", "length": "620", "width": "40", "thickness": "20"}
    assert "Please fill this in" in wrong(client.post("/stock/wanted", data=ready | {"count": ""}).text, "count")
    assert "620 mm × 40 mm × 20 mm" in client.post("/stock/wanted", data=ready).text
    client.post("/shop/workshop", data=workshop(client) | {"plan_seconds": "60", "kerf": "3.2"})
    state = client.app.state  # type: ignore[attr-defined]
    monkeypatch.setattr(state, "queue", AtOnce(state.database))
    assert client.post("/stock/plans", data={"ready": "on"}).status_code == 422
    assert client.post("/stock/plans", data={"boards": board.split("/")[-1]}).status_code == 422
    page = client.post("/stock/plans", data={"ready": "on", "boards": board.split("/")[-1]})
    assert page.url.path == "/stock/plans/1"
    assert "No other plan of this kind saws up less wood: proven" in page.text
    assert 'data-part="piece 1"' in page.text
    assert 'id="plan"' in client.get("/stock/plans/1", headers={"hx-request": "true"}).text
    page = client.post("/stock/plans/1/accept")
    twice = client.post("/stock/plans/1/accept")
    assert (twice.status_code, "already accepted" in twice.text, 'id="plan"' in twice.text) == (409, True, True)
    printed = client.get("/stock/plans/1/plan.pdf")
    assert "Cutting plan 1" in text(printed.content)
    assert "Lot 1" in text(printed.content)

    # Sawn by the plan.
    address = re.search(r'href="(/stock/\d+/saw\?plan=1&amp;cut=0)"', page.text)
    assert address
    form = client.get(address[1].replace("&amp;", "&")).text
    values = dict(re.findall(r'name="(\w+)"[^>]*? value="([^"]*)"', form))
    assert values["count_1"] == "4"
    assert values["length_1"] == "620 mm"
    bad = client.post(f"{board}/saw", data=values | {"length_1": "long"})
    assert (bad.status_code, "Write a length" in wrong(bad.text, "length_1")) == (422, True)
    page = client.post(f"{board}/saw", data=values)
    assert page.url.path == "/stock/plans/1"
    assert "1 of 1 boards are sawn" in page.text
    page = client.get(board).text
    assert "% waste, by" in page
    halves = re.search(r'href="(/stock/\d+)">lot \d+, black walnut, halves', page)
    assert halves
    assert f'Sawn from <a href="{board}">' in client.get(halves[1]).text
    client.post(flaw[0])
    twice = client.post(flaw[0])
    assert (twice.status_code, "already removed" in twice.text, 'id="flaws"' in twice.text) == (409, True, True)

    # Counted with a count sheet.
    number = halves[1].split("/")[-1]
    sheet = client.get("/stock/count?kind=halves").text
    assert f'name="counted_{number}"' in sheet
    bad = client.post("/stock/count", data={f"counted_{number}": "3", f"said_{number}": "4"})
    assert "1 piece missing" in wrong(bad.text, f"why_{number}")
    data = {f"counted_{number}": "3", f"said_{number}": "4.0", f"why_{number}": "one split", "counted_999": "1"}
    assert client.post("/stock/count", data=data).status_code == 404
    del data["counted_999"]
    assert "1 lot is counted, 1 differed." in client.post("/stock/count", data=data).text
    assert "walnut" in text(client.get("/stock/count.pdf").content)

    # To buy, with prices for those who see costs.
    assert "€180.00" in client.get("/stock/to-buy").text
    assert "€180.00" in text(client.get("/stock/to-buy.pdf").content)
    labels_lead_to_their_pages(client, open_shop, board)
    signed_in(client, "tam")
    assert "€" not in client.get("/stock/to-buy").text.split("<main")[1]


def workshop(client: TestClient) -> dict[str, str]:
    """The settings form as it is filled."""
    page = client.get("/shop/workshop").text
    form = page[page.index('action="/shop/workshop"') : page.index('id="minutes"')]
    return dict(re.findall(r'name="(\w+)"[^>]*? value="([^"]*)"', form))


def labels_lead_to_their_pages(client: TestClient, open_shop: OpenShop, board: str) -> None:
    with open_shop.database.write() as session:
        made.opened(session, open_shop.maker)
    page = client.get(f"/stock/labels?lot={board.split('/')[-1]}").text
    assert "63.5 × 38.1 mm, 21 on A4" in page
    pdf = client.get("/stock/labels.pdf", params={"sheet": "a4-21", "start": "3", "lot": "1", "blank": "0001"}).content
    assert sorted(codes(picture(pdf, 0, 300))) == ["http://testserver/blanks/0001", f"http://testserver{board}"]
    for params, says in (
        ({"sheet": "a4-99", "lot": "1"}, "Choose one of the label sheets"),
        ({"sheet": "a4-21", "lot": "1", "start": "22"}, "positions 1 to 21"),
        ({"sheet": "a4-21", "lot": "1", "copies": "900"}, "Print 1 to 50"),
        ({"sheet": "a4-21"}, "Choose at least one"),
    ):
        answer = client.get("/stock/labels.pdf", params=params)
        assert (answer.status_code, says in answer.text) == (409, True)


def test_a_blank_tells_where_its_wood_came_from_and_what_it_cost(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        flute_id = made.order(session)
        made.opened(session, open_shop.maker, flute_id=flute_id)
    lot = {"kind": "finish", "name": "oil", "unit": "ml", "quantity": "100", "unit_cost": "0.10"}
    oil = client.post("/stock/new", data=lot).url.path.split("/")[-1]
    assert client.post("/shop/workshop/supplies", data={"item_id": "999", "quantity": "1"}).status_code == 422
    client.post("/shop/workshop/supplies", data={"item_id": oil, "quantity": "12"})
    client.post("/shop/workshop", data=workshop(client) | {"hourly_rate": "30"})
    minutes = dict.fromkeys(("boring", "gluing", "flue", "voicing", "tuning", "finishing"), "60")
    assert client.post("/shop/workshop/minutes", data=minutes | {"flue": "-1"}).status_code == 422
    client.post("/shop/workshop/minutes", data=minutes)
    stale = client.post("/shop/workshop", data=workshop(client) | {"version": "1"})
    assert (stale.status_code, "Someone else changed" in stale.text) == (409, True)
    page = client.get("/blanks/0001/wood").text
    for words in ("Wood that was not in stock", "€181.20", "table 13-5", "Driest months", "as planned, still ahead"):
        assert words in page
    assert "square to the joint face" in client.get("/blanks/0001/wood?sawn=quarter-sawn").text
    assert client.post("/blanks/0001/minutes", data={"stage": "boring", "minutes": "x"}).status_code == 422
    client.post("/blanks/0001/minutes", data={"stage": "boring", "minutes": "90", "why": "a hard knot"})
    client.post("/blanks/0001/supplies")
    twice = client.post("/blanks/0001/supplies")
    assert (twice.status_code, "on record for this blank already" in twice.text) == (409, True)
    assert 'id="materials"' in twice.text
    # A form that this kind of lot does not have.
    dry = client.post(f"/stock/{oil}/moisture", data={"percent": "8"})
    assert (dry.status_code, "Only wood has a moisture content" in dry.text) == (409, True)
    page = client.get("/blanks/0001/wood").text
    assert "a hard knot" in page
    assert "€196.20" in page
    page = client.get("/orders/1/costs").text
    assert "€196.20" in page
    assert "€103.80" in page, "what is left of 300"
    assert "American basswood" in client.get("/patterns/1/1/seasons").text
    assert "5.5 %" in client.get(f"/stock/woods/{open_shop.species()}/figures").text
    assert (
        "no figures for this wood" in client.get(f"/stock/woods/{open_shop.species('African blackwood')}/figures").text
    )

    # Costs are for the office and the owner; minutes for all who work; who only looks changes nothing.
    signed_in(client, "tam")
    assert "€" not in client.get("/blanks/0001/wood").text.split("<main")[1]
    assert client.get("/orders/1/costs").status_code == 403
    assert client.post("/shop/workshop", data=workshop(client) | {"kerf": "2.8"}).status_code == 200
    assert client.get("/shop/workshop").text.count("hourly_rate") == 0
    signed_in(client, "kit")
    for address in ("/blanks/0001/wood", "/stock/plans", "/stock/to-buy", "/shop/workshop", "/stock/labels"):
        main = client.get(address).text.split("<main")[1]
        assert 'method="post"' not in main, address
    for address in ("/blanks/0001/supplies", "/stock/plans", "/stock/count", "/shop/workshop", "/stock/1/moisture"):
        assert client.post(address).status_code == 403, address


def test_a_plan_whose_process_ended_says_so(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        plan = CuttingPlan(asked={"seconds": 2}, started_by=open_shop.maker.id, stage="Finding")
        session.add(plan)
        session.commit()
    assert 'hx-trigger="every 1s"' in client.get("/stock/plans/1").text
    assert client.get("/stock/plans/1/plan.pdf").status_code == 409
    assert "is not finished calculating" in client.post("/stock/plans/1/accept").text
    with open_shop.database.write() as session:
        plan = session.get_one(CuttingPlan, 1)
        plan.touched_at -= claims.QUIET
        session.add(plan)
        session.commit()
    assert "did not finish" in client.get("/stock/plans/1").text
    # One that can't be calculated records that it failed.
    AtOnce(client.app.state.database).enqueue(job_kinds.CUTTING_PLAN, 1)  # type: ignore[attr-defined]
    assert "reason is in the server" in client.get("/stock/plans/1").text
