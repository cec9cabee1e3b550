"""Revisions side by side, changes before saving, suggestions, and mistakes at their field in the live form."""

import re

import pytest
from fastapi.testclient import TestClient

from tests.pages.patterns.test_patterns import ASKED
from tests.shops import signed_in

LIVE = {"HX-Request": "true"}


@pytest.fixture
def two(client: TestClient) -> TestClient:
    client.post("/patterns/design", data=ASKED | {"name": "A4 to test with"})
    client.post("/patterns/design", data=ASKED | {"pattern": "1", "wall": "6 mm", "note": "thicker"})
    return client


def test_two_revisions_stand_side_by_side_with_what_differs_marked(two: TestClient) -> None:
    signed_in(two, "kit")
    assert "/patterns/1/compare" in two.get("/patterns/1").text
    page = two.get("/patterns/1/compare").text
    assert page.count("drawing--working") == 2
    assert page.count("drawing--chart") == 2
    marked = re.findall(r'<tr role="row" class="is-changed"><th[^>]*>([^<]+)', page)
    assert "Outside, wall" in marked
    assert "Foot, at" in marked
    assert "Bore, diameter" not in marked
    same = two.get("/patterns/1/compare?first=2&second=2").text
    assert "No of" in same or "<strong>No" in same
    assert "is-changed" not in same


@pytest.mark.parametrize(
    "query", ["first=9&second=1", "first=1&second=x", "first=&second=1", "first=99999999999999&second=1"]
)
def test_a_revision_that_is_not_there_is_said_at_its_field(two: TestClient, query: str) -> None:
    answer = two.get(f"/patterns/1/compare?{query}")
    assert answer.status_code == 422
    assert "Choose one of the list" in answer.text
    assert two.get("/patterns/9/compare").status_code == 404


def test_one_revision_alone_has_nothing_to_be_compared_with(client: TestClient) -> None:
    client.post("/patterns/design", data=ASKED | {"name": "alone"})
    page = client.get("/patterns/1/compare")
    assert page.status_code == 200
    assert "only one revision" in page.text


def test_changes_are_shown_before_saving(two: TestClient) -> None:
    again = re.search(r'href="(/patterns/design\?[^"]*against=1[^"]*)"', two.get("/patterns/1/1").text)
    assert again is not None
    page = two.get(again[1].replace("&amp;", "&")).text
    assert "Changes against revision 1" in page
    assert "of 33 dimensions differ" in page
    changed = page.split('id="changes"')[1].split("</section>")[0]
    assert "0 of 33" in changed or "No of 33" in changed, "nothing was changed yet"
    asked = ASKED | {"pattern": "1", "against": "1", "wall": "6 mm"}
    for headers in ({}, LIVE):
        part = two.get("/patterns/design", params=asked, headers=headers).text
        changed = part.split('id="changes"')[1].split("</section>")[0]
        assert "Outside, wall" in changed
        assert "Bore, diameter" not in changed
    newest = two.get("/patterns/design", params=asked | {"against": "77"}).text
    assert "Changes against revision 2" in newest, "an unknown one gives way to the newest"


def test_a_mistake_in_the_live_form_stands_at_its_field_and_is_cleared_again(client: TestClient) -> None:
    part = client.get("/patterns/design", params=ASKED | {"bore": "thick", "wall": "99 mm"}, headers=LIVE)
    assert part.status_code == 422
    again = dict(re.findall(r'id="at-(\w+)" hx-swap-oob="true">(.*?)</div>\n?</div>', part.text, re.DOTALL))
    assert set(again) == {"bore", "wall"}, "no other field is touched while someone types in it"
    assert "Write a length" in again["bore"]
    assert 'value="thick"' in again["bore"]
    assert re.search(r'name="was_wrong" form="asked"\s+value="bore wall"', part.text)
    assert "data-summary" not in part.text, "the focus stays where someone is typing"
    right = client.get(
        "/patterns/design", params=ASKED | {"bore": "19 mm", "was_wrong": "bore wall nonsense"}, headers=LIVE
    )
    assert right.status_code == 200
    assert re.findall(r'id="at-(\w+)" hx-swap-oob', right.text) == ["bore", "wall"]
    assert "field--wrong" not in right.text
    assert "was_wrong" not in right.text
    assert "hx-swap-oob" not in client.get("/patterns/design", params=ASKED).text


def test_sizes_are_suggested_with_their_reason(client: TestClient) -> None:
    page = client.get("/patterns/design", params=ASKED).text
    reasons = page.split("What suits this key, and why")[1].split("</dl>")[0]
    for name in ("Bore", "Wall", "Window length", "Flue depth", "Flue width"):
        assert f"<dt>{name} <strong>" in reasons
    assert "Common practice, no published source" in reasons
    assert "half a wavelength" in reasons.lower()
    # Half a wavelength of A4 at 345 m/s: 345 / 440 / 2 m = 392 mm (textbook).
    assert "392 mm" in reasons
    given = client.get("/patterns/design", params=ASKED | {"bore": "22 mm"}).text
    assert "<dt>Bore <strong>22 mm</strong>" in given
    wrong_elsewhere = client.get("/patterns/design", params=ASKED | {"reach": "x"}).text
    assert "What suits this key" in wrong_elsewhere
    assert "What suits this key" not in client.get("/patterns/design", params=ASKED | {"key": "H"}).text
