"""The blanks' screens: the list, one blank, its steps recorded and taken back."""

import re
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import col, select

from tests import blanks as made
from tests.shops import OpenShop, signed_in
from webapp.models import Blank, BlankStatus, StepRecord

HERE = "/blanks/0001"


def bring(shop: OpenShop, code: str) -> int:
    """A blank 0001 with everything before this step passed; the id of the step."""
    with shop.database.write() as session:
        blank = made.opened(session, shop.maker)[0]
        made.bring_to(session, shop.maker, blank, code)
        found = made.step(session, blank, code).id
    assert found is not None
    return found


def entries(shop: OpenShop) -> list[StepRecord]:
    with shop.database.read() as session:
        return list(session.exec(select(StepRecord).order_by(col(StepRecord.id))))


def test_a_measured_size_is_two_taps(client: TestClient, open_shop: OpenShop) -> None:
    step = bring(open_shop, "bore-gauge")
    page = client.get(HERE).text
    assert "Bore gauged" in page and "19.05 mm" in page and "from 18.85 mm to 19.35 mm" in page
    answer = client.post(f"{HERE}/steps/{step}", data={"value": "19.1", "outcome": "passed"}, follow_redirects=False)
    assert answer.status_code == 303
    page = client.get(answer.headers["location"]).text
    assert "Recorded." in page and "Halves planed until they meet" in page
    assert entries(open_shop)[-1].value == 19.1


def test_a_size_outside_its_limits_keeps_the_blank_and_says_why(client: TestClient, open_shop: OpenShop) -> None:
    step = bring(open_shop, "bore-gauge")
    page = client.post(f"{HERE}/steps/{step}", data={"value": "19.55"})
    assert "Did not pass" in page.text
    assert "0.2 mm too wide: 19.55 mm, at most 19.35 mm" in page.text
    page = client.post(f"{HERE}/steps/{step}", data={"outcome": "let pass"})
    assert page.status_code == 422 and "Say why it may pass." in page.text
    page = client.post(f"{HERE}/steps/{step}", data={"outcome": "let pass", "why": "tuned by ear anyway"})
    assert page.status_code == 200 and "tuned by ear anyway" in page.text


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({}, "Type what the gauge shows."),
        ({"value": "wide"}, "Write a length"),
        ({"value": "nan"}, "Write a length"),
        ({"value": "-3"}, "Must be more than 0"),
        ({"value": "99999"}, "Must be 3000"),
        ({"value": "19", "outcome": "perhaps"}, "Choose one of the list."),
        ({"value": "19", "note": "x" * 1001}, "Use at most 1000 characters."),
        ({"outcome": "failed"}, "Say what is wrong with it."),
    ],
)
def test_what_can_not_be_used_is_said_at_its_field_and_kept(
    client: TestClient, open_shop: OpenShop, typed: dict[str, str], says: str
) -> None:
    step = bring(open_shop, "bore-gauge")
    before = len(entries(open_shop))
    page = client.post(f"{HERE}/steps/{step}", data=typed)
    assert page.status_code == 422
    assert says in page.text
    if len(typed.get("value", "")) > 2:
        assert f'value="{typed["value"]}"' in page.text
    assert len(entries(open_shop)) == before


def test_a_form_sent_twice_makes_one_entry(client: TestClient, open_shop: OpenShop) -> None:
    step = bring(open_shop, "halves")
    once = re.search(r'name="once"\s+value="([^"]+)"', client.get(HERE).text)
    assert once
    answers = [client.post(f"{HERE}/steps/{step}", data={"once": once[1]}, follow_redirects=False) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [303, 303]
    assert answers[0].headers["location"] == answers[1].headers["location"]
    assert len(entries(open_shop)) == 1


def test_someone_else_was_quicker(client: TestClient, open_shop: OpenShop) -> None:
    step = bring(open_shop, "bore-gauge")
    client.post(f"{HERE}/steps/{step}", data={"value": "19"})
    page = client.post(f"{HERE}/steps/{step}", data={"value": "18.9"})
    assert page.status_code == 409
    assert "was already recorded by Ines Varga" in page.text.replace("&#39;", "'")
    assert "Halves planed until they meet" in page.text
    assert 'value="18.9"' not in page.text


def test_a_step_of_a_later_stage_is_refused_with_what_comes_first(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "dry-fit")
    with open_shop.database.read() as session:
        blank = session.exec(select(Blank)).one()
        later = made.step(session, blank, "flue").id
    page = client.post(f"{HERE}/steps/{later}", data={})
    assert page.status_code == 409
    assert "First: &#39;Dry fit&#39;, &#39;Glue-up&#39;" in page.text


def test_another_step_of_the_stage_can_be_chosen(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "flaws")
    page = client.get(HERE).text
    other = re.search(r'href="/blanks/0001(\?step=\d+)#now">Record\s+now<span\s+class="unseen">: Centre marked', page)
    assert other
    assert '<h2 class="now__name">Centre marked</h2>' in client.get(HERE + other[1]).text
    assert '<h2 class="now__name">Flaws filled</h2>' in client.get(HERE + "?step=junk").text


def test_before_its_time_a_reason_is_asked_for(client: TestClient, open_shop: OpenShop) -> None:
    step = bring(open_shop, "coat-1")
    page = client.get(HERE).text
    assert "The coat dries until" in page
    page = client.post(f"{HERE}/steps/{step}", data={})
    assert page.status_code == 422 and "say why work may continue before its time" in page.text
    assert client.post(f"{HERE}/steps/{step}", data={"why": "thin coat, hot day"}).status_code == 200
    assert entries(open_shop)[-1].why == "thin coat, hot day"


def test_in_the_clamps_the_swabbing_is_offered(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "glue-up")
    with open_shop.database.read() as session:
        blank = session.exec(select(Blank)).one()
    client.post("/glue-up", data={"blanks": str(blank.id), "adhesive_id": "1", "temperature": "20"})
    page = client.get(HERE).text
    assert "Meanwhile, in the clamps" in page
    swab = re.search(r'action="(/blanks/0001/steps/\d+)"', page)
    assert swab and client.post(swab[1], data={}).status_code == 200
    assert "Meanwhile, in the clamps" not in client.get(HERE).text


def test_an_entry_is_taken_back_for_a_reason_and_stays_in_the_history(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "flaws")
    link = re.search(
        r'href="(/blanks/0001/entries/\d+)">Take back<span\s+class="unseen"> the entry: Bores milled',
        client.get(HERE).text,
    )
    assert link
    assert "Bores milled" in client.get(link[1]).text
    assert client.post(link[1], data={}).status_code == 422
    page = client.post(link[1], data={"why": "the other one was meant"})
    assert page.status_code == 200
    assert "the other one was meant" in page.text and "(taken back)" in page.text
    assert '<h2 class="now__name">Bores milled</h2>' in page.text
    assert client.post(link[1], data={"why": "again"}).status_code == 409


def test_a_blank_is_given_up_for_a_reason(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "flaws")
    page = client.post(f"{HERE}/give-up", data={})
    assert page.status_code == 422 and "Please fill this in." in page.text
    page = client.post(f"{HERE}/give-up", data={"why": "checked at the foot"})
    assert page.status_code == 200 and "firewood" in page.text and "checked at the foot" in page.text
    assert "Give this blank up" not in page.text
    assert client.post(f"{HERE}/give-up", data={"why": "again"}).status_code == 409


def test_someone_who_only_looks_has_no_forms_and_can_change_nothing(client: TestClient, open_shop: OpenShop) -> None:
    step = bring(open_shop, "flaws")
    entry = entries(open_shop)[-1].id
    viewer = signed_in(client, "kit")
    page = viewer.get(HERE).text
    assert page.split("<main", 1)[1].count('method="post"') == 0
    attempts: list[tuple[str, dict[str, Any]]] = [
        (f"{HERE}/steps/{step}", {}),
        (f"{HERE}/entries/{entry}", {"why": "x"}),
        (f"{HERE}/give-up", {"why": "x"}),
        ("/blanks/new", {"revision_id": "1", "species_id": "1"}),
    ]
    for address, data in attempts:
        assert viewer.post(address, data=data).status_code == 403, address
    assert viewer.get("/blanks/new").status_code == 403


@pytest.mark.parametrize(
    "address",
    ["/blanks/9999", "/blanks/0001/entries/99", "/blanks/0001/entries/x", "/blanks/%00", "/blanks/" + "9" * 300],
)
def test_what_is_not_there_is_not_found(client: TestClient, open_shop: OpenShop, address: str) -> None:
    bring(open_shop, "bore")
    assert client.get(address).status_code == 404


def test_a_step_of_another_blank_is_not_found_here(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "bore")
    with open_shop.database.write() as session:
        other = made.opened(session, open_shop.maker)[0]
        step = made.step(session, other, "halves").id
    assert client.post(f"{HERE}/steps/{step}", data={}).status_code == 404
    assert client.post(f"{HERE}/steps/{2**40}", data={}).status_code == 404


def test_the_list_shows_what_was_asked_for(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "glue-up")
    with open_shop.database.write() as session:
        made.opened(session, open_shop.maker, key="C5")

    def found(query: str) -> list[str]:
        page = client.get(f"/blanks?{query}")
        assert page.status_code == 200
        return sorted(set(re.findall(r'<a href="/blanks/(\d{4})">', page.text)))

    assert found("") == ["0001", "0002"]
    assert found("waiting=glue-up") == ["0001"]
    assert found("key=c5") == ["0002"]
    assert found("stage=boring&status=in+work") == ["0002"]
    assert found("status=firewood") == []
    assert found("status=all&page=2") == []
    assert found(f"wood={open_shop.species()}") == ["0001", "0002"]


@pytest.mark.parametrize("query", ["key=H", "stage=sawing", "status=lost", "wood=oak", "waiting=bus"])
def test_a_filter_that_names_nothing_says_so_at_its_field(client: TestClient, query: str) -> None:
    page = client.get(f"/blanks?{query}")
    assert page.status_code == 422
    assert "field__wrong" in page.text


def test_blanks_for_the_shelf_are_opened_from_a_pattern(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        revision = made.pattern(session, open_shop.maker)
    assert "Pattern in A4, revision 1" in client.get("/blanks/new").text
    asked = {"revision_id": str(revision), "species_id": str(open_shop.species()), "count": "3"}
    assert client.post("/blanks/new", data=asked | {"count": "0"}).status_code == 422
    assert client.post("/blanks/new", data=asked | {"revision_id": "77"}).status_code == 422
    assert client.post("/blanks/new", data=asked | {"item_id": "77"}).status_code in (404, 422)
    assert client.post("/blanks/new", data=asked).status_code == 200
    with open_shop.database.read() as session:
        assert [blank.status for blank in session.exec(select(Blank))] == [BlankStatus.IN_WORK] * 3
