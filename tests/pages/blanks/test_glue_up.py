"""The glue-up page."""

import re
from datetime import timedelta

from fastapi.testclient import TestClient
from sqlmodel import select

from tests import blanks as made
from tests.shops import OpenShop, signed_in
from webapp.models import Blank, GlueUp

ASKED = {"adhesive_id": "1", "temperature": "20", "lot": "L7"}


def ready(shop: OpenShop, count: int) -> list[str]:
    """Ids of blanks that are ready for glue-up."""
    with shop.database.write() as session:
        blanks = made.opened(session, shop.maker, count)
        for blank in blanks:
            made.bring_to(session, shop.maker, blank, "glue-up")
        return [str(blank.id) for blank in blanks]


def test_spread_clamped_and_out_again(client: TestClient, open_shop: OpenShop) -> None:
    ids = ready(open_shop, 3)
    assert "Clamps are left for 6." in client.get("/glue-up").text
    page = client.post("/glue-up", data=ASKED | {"blanks": ids[:2]})
    assert "the open time runs" in page.text and 'data-clock="since"' in page.text
    page = client.post("/glue-up/1/clamped")
    assert "Out of the clamps at" in page.text and "In clamps until" in page.text
    page = client.post("/glue-up/1/out", data={"blanks": ids[:1]})
    assert page.status_code == 422 and "say why they come out now" in page.text
    page = client.post("/glue-up/1/out", data={"blanks": ids[:1], "why": "it slipped"})
    assert page.status_code == 200 and "Out of the clamps: 0001." in page.text
    assert "Clamps are left for 5." in page.text
    page = client.post("/glue-up/1/out", data={"all": "yes", "why": "all slipped"})
    assert "Out of the clamps: 0002." in page.text
    assert client.post("/glue-up/1/out", data={"why": "again"}).status_code == 409
    # The next glue-up begins with the glue and the lot of the last.
    assert 'value="L7"' in page.text


def test_what_is_wrong_is_said_at_its_field_and_what_was_typed_is_kept(client: TestClient, open_shop: OpenShop) -> None:
    ids = ready(open_shop, 1)
    for typed, says in [
        (ASKED, "Choose at least one blank."),
        (ASKED | {"blanks": ids, "temperature": "warm"}, "Write a temperature"),
        (ASKED | {"blanks": ids, "temperature": "99"}, "Must be between 0 °C and 45 °C."),
        (ASKED | {"blanks": ids, "adhesive_id": ""}, "Please fill this in."),
        (ASKED | {"blanks": ids, "adhesive_id": "88"}, "Choose one of the list."),
        (ASKED | {"blanks": "999"}, "no longer there"),
        (ASKED | {"blanks": ids, "temperature": "50 F"}, "is colder than white wood glue"),
    ]:
        page = client.post("/glue-up", data=typed)
        assert page.status_code == 422, typed
        assert says in page.text, typed
        assert 'value="L7"' in page.text
    with open_shop.database.read() as session:
        assert session.exec(select(GlueUp)).all() == []
    page = client.post("/glue-up", data=ASKED | {"blanks": ids, "temperature": "50 F", "why": "a heat lamp"})
    assert page.status_code == 200 and "is colder than white wood glue" in page.text


def test_a_glue_up_is_called_off_for_a_reason(client: TestClient, open_shop: OpenShop) -> None:
    ids = ready(open_shop, 1)
    client.post("/glue-up", data=ASKED | {"blanks": ids})
    assert client.post("/glue-up/1/call-off").status_code == 422
    page = client.post("/glue-up/1/call-off", data={"why": "wrong bottle"})
    assert "await glue-up again" in page.text
    assert client.post("/glue-up/1/clamped").status_code == 409


def test_a_reason_for_clamping_late_is_kept_where_it_is_refused(client: TestClient, open_shop: OpenShop) -> None:
    client.post("/glue-up", data=ASKED | {"blanks": ready(open_shop, 1)})
    with open_shop.database.write() as session:
        glue_up = session.exec(select(GlueUp)).one()
        glue_up.spread_at -= timedelta(minutes=glue_up.open_minutes + 30)
        session.add(glue_up)
    assert "say why the joint will hold" in client.post("/glue-up/1/clamped").text
    page = client.post("/glue-up/1/clamped", data={"why": "the film was still wet" + "x" * 300})
    assert page.status_code == 422 and "Use at most 300 characters." in page.text
    assert re.search(r'id="set1-late" [^>]*value="the film was still wetxxx', page.text)


def test_unknown_glue_ups_are_not_found(client: TestClient) -> None:
    for act in ("clamped", "out", "call-off"):
        assert client.post(f"/glue-up/77/{act}", data={"why": "x"}).status_code == 404
        assert client.post(f"/glue-up/{2**40}/{act}", data={"why": "x"}).status_code == 404


def test_someone_who_only_looks_sees_the_clamps_and_no_form(client: TestClient, open_shop: OpenShop) -> None:
    ids = ready(open_shop, 2)
    client.post("/glue-up", data=ASKED | {"blanks": ids[:1]})
    viewer = signed_in(client, "kit")
    page = viewer.get("/glue-up").text
    assert "0001" in page and "0002" in page
    assert 'method="post"' not in page.split("<main", 1)[1]
    for address, data in [
        ("/glue-up", ASKED | {"blanks": ids[1:]}),
        ("/glue-up/1/clamped", {}),
        ("/glue-up/1/out", {"why": "x"}),
        ("/glue-up/1/call-off", {"why": "x"}),
    ]:
        assert viewer.post(address, data=data).status_code == 403


def test_the_rack_tells_when_it_comes_out(client: TestClient, open_shop: OpenShop) -> None:
    ids = ready(open_shop, 1)
    client.post("/glue-up", data=ASKED | {"blanks": ids})
    assert "glue is spread: clamp it" in client.get("/").text
    client.post("/glue-up/1/clamped")
    page = client.get("/").text
    assert re.search(r"out of clamps (\w{3} )?\d\d:\d\d", page)
    with open_shop.database.read() as session:
        assert session.exec(select(Blank)).one().waits_for == "clamps"
