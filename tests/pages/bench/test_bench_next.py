"""The next cut on the bench's page, and the cut that was made."""

import re

import pytest
from fastapi.testclient import TestClient

from tests.pages.bench.test_bench import HERE, bring
from tests.shops import OpenShop, signed_in
from webapp.pages.bench.next_cut import drill_marks
from webapp.shop.advice.next_cut import Advised
from webapp.shop.settings import tools


def test_a_cut_is_written_down_and_taken_back(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "tuned")
    page = client.get(HERE).text
    assert "Play A4" in page and "Hole 6, now" in page and 'class="drawing' in page
    assert re.search(r"About \d+ cuts and \d+ readings to go\.", page)
    page = client.post(f"{HERE}/cuts", data={"control": "6", "size": "6.9", "note": "round file"}).text
    assert "1 cut so far" in page and "Hole 6, now 6.9" in page and "round file" in page
    link = re.search(rf'href="({HERE}/cuts/\d+)"', page)
    assert link and "6.9" in client.get(link[1]).text
    assert client.post(link[1], data={}).status_code == 422
    page = client.post(link[1], data={"why": "it was hole 5"}).text
    assert "taken back: it was hole 5" in page and "Hole 6, now 6.9" not in page
    assert client.post(link[1], data={"why": "again"}).status_code == 409


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"size": ""}, "size", "Please fill this in."),
        ({"size": "wide"}, "size", "Write"),
        ({"size": "2"}, "size", "Holes only get larger"),
        ({"size": "1e999"}, "size", ""),
        ({"control": "0", "size": "600"}, "size", "The foot only gets shorter"),
        ({"control": "x"}, "control", "Write a whole number."),
        ({"control": "-1"}, "control", "Must be 0 or more."),
        ({"control": "7"}, "control", "Choose one of the pattern"),
        ({"note": "x" * 501}, "note", "Use at most 500 characters."),
    ],
)
def test_what_can_not_be_cut_is_said_at_its_field(
    client: TestClient, open_shop: OpenShop, typed: dict[str, str], field: str, says: str
) -> None:
    bring(open_shop, "tuned")
    page = client.post(f"{HERE}/cuts", data={"control": "6", "size": "6.9"} | typed)
    assert page.status_code == 422
    wrong = re.search(rf'id="cut-f-{field}-wrong">(.*?)</span>', page.text, re.S)
    assert wrong and says in wrong[1]


def test_before_tuning_nothing_is_cut(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "fundamental")
    assert "Hole 6, now" not in client.get(HERE).text
    assert client.post(f"{HERE}/cuts", data={"control": "6", "size": "6.9"}).status_code == 409
    assert client.get(f"{HERE}/cuts/99").status_code == 404
    assert client.post("/bench/4711/cuts", data={}).status_code == 404


def test_someone_who_only_looks_cuts_nothing(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "tuned")
    viewer = signed_in(client, "kit")
    page = viewer.get(HERE).text
    assert "Play A4" in page and "It is cut" not in page
    assert viewer.post(f"{HERE}/cuts", data={"control": "6", "size": "6.9"}).status_code == 403


def test_the_rack_s_drills_up_to_the_advised_size_stand_beside_the_cut(open_shop: OpenShop) -> None:
    with open_shop.database.read() as session:
        on_rack = [one.diameter for one in tools.drills(session)]
        marks = drill_marks(session, Advised("", control=3, start=6.0, to=9.0))
        assert drill_marks(session, Advised("", control=0, start=300.0, to=298.0)) == []
    found = [float(size.removesuffix(" mm")) for size, _ in marks]
    fitting = [one for one in on_rack if 6.0 < one <= 9.0]
    assert found == pytest.approx(fitting[-5:], abs=1e-4) and 0 < len(found) <= 5
