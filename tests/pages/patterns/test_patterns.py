"""The pattern screens: designing, saving, revisions, proof; what cannot be had is said with the nearest layout."""

import re

import pytest
from fastapi.testclient import TestClient

from tests.pages.orders.test_orders import wrong
from tests.shops import signed_in

ASKED = {"key": "A4", "scale": "minor pentatonic", "holes": "6", "a4": "440", "temperament": "equal"}


@pytest.fixture
def pattern(client: TestClient) -> str:
    """The address of a saved pattern's first revision."""
    answer = client.post("/patterns/design", data=ASKED | {"name": "A4 to test with", "note": "a first try"})
    assert answer.status_code == 200, answer.text
    return answer.url.path


def test_a_design_is_shown_to_scale_with_the_cents_of_every_note(client: TestClient) -> None:
    page = client.get("/patterns/design", params=ASKED | {"reach": "190 mm"})
    assert page.status_code == 200
    assert "drawing--working" in page.text
    assert "drawing--chart" in page.text
    found = re.findall(r'class="number">[\d.]+ Hz</td>\s*<td class="number">([+−]?\d+\.\d)</td>', page.text)
    cents = [float(text.replace("−", "-")) for text in found]
    assert len(cents) == 7
    assert max(map(abs, cents)) <= 1.0
    # A4 at 440 Hz, and its equal-tempered minor third C5 at 523.25 Hz (ISO 16:1975; the octave divided in twelve).
    assert "440.00 Hz" in page.text
    assert "523.25 Hz" in page.text
    assert "24 °C" in page.text
    assert client.get("/patterns").text.count("/patterns/1") == 0, "looking saves nothing"


def test_htmx_gets_the_result_alone(client: TestClient) -> None:
    part = client.get("/patterns/design", params=ASKED, headers={"HX-Request": "true"})
    assert part.status_code == 200
    assert "<html" not in part.text
    assert "drawing--working" in part.text
    bad = client.get("/patterns/design", params=ASKED | {"bore": "thick"}, headers={"HX-Request": "true"})
    assert bad.status_code == 422
    assert "Write a length" in bad.text


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("key", "H", "a note from G3 to C6"),
        ("scale", "blues", "Choose one of the list"),
        ("holes", "4", "Choose five or six"),
        ("a4", "nan", "between 390 and 470"),
        ("temperament", "odd", "Choose one of the list"),
        ("reach", "1 mm", "between 60 mm and 400 mm"),
        ("bore", "thick", "Write a length"),
        ("bore", "2 in", "between 6 mm and 40 mm"),
        ("wall", "0", "between 1.5 mm and 15 mm"),
        ("window_length", "90", "between"),
        ("window_width", "39 mm", "mm"),
        ("spacing_least", "2", "between 8 mm and 100 mm"),
        ("spacing_most", "10", "first must not exceed"),
        ("largest_hole", "20 mm", "bore"),
        ("second_register_weight", "much", "Write a number"),
        ("second_register_weight", "1e9", "Must be 10"),
        ("drills", "none", "rack"),
        ("outside", "oval", "round"),
    ],
)
def test_what_is_wrong_stands_at_its_field(client: TestClient, field: str, typed: str, says: str) -> None:
    more = {"spacing_least": "30"} if field == "spacing_most" else {}
    for answer in (
        client.get("/patterns/design", params=ASKED | more | {field: typed}),
        client.post("/patterns/design", data=ASKED | more | {"name": "x", field: typed}),
    ):
        assert answer.status_code == 422
        at_field = re.search(rf'id="f-{field}-wrong">(.*?)</span>', answer.text, re.DOTALL)
        said = at_field[1] if at_field else answer.text.split("data-summary")[1].split("</ul>")[0]
        assert says in said or "Choose one of the list" in said


def test_what_cannot_be_had_is_shown_as_the_nearest_layout_and_saved_only_when_accepted(client: TestClient) -> None:
    asked = ASKED | {"key": "C4", "reach": "110 mm"}
    page = client.get("/patterns/design", params=asked)
    assert page.status_code == 200
    assert "nearest layout" in page.text
    assert "reach" in page.text.split("nearest layout")[1][:600]
    refused = client.post("/patterns/design", data=asked | {"name": "C4, small hand"})
    assert refused.status_code == 422
    assert "Not all limits can be met" in wrong(refused.text, "accept")
    kept = client.post("/patterns/design", data=asked | {"name": "C4, small hand", "accept": "on"})
    assert kept.url.path == "/patterns/1/1"
    assert "had to give" in kept.text


def test_a_saved_pattern_keeps_its_dimensions_and_is_found_under_either_spelling(client: TestClient) -> None:
    page = client.post("/patterns/design", data=ASKED | {"key": "F#4", "name": "low F sharp", "bore": "3/4"})
    assert page.url.path == "/patterns/1/1"
    assert "19.05 mm" in page.text
    assert "low F sharp" in client.get("/patterns?key=Gb4").text
    assert "low F sharp" not in client.get("/patterns?key=G4").text
    assert client.get("/patterns?key=K9").status_code == 422
    taken = client.post("/patterns/design", data=ASKED | {"name": "low F sharp"})
    assert taken.status_code == 422
    assert "of that name already" in wrong(taken.text, "name")


def test_a_change_is_a_new_revision_and_the_first_stays_as_it_is(client: TestClient, pattern: str) -> None:
    before = re.search(r"<dt>Splitting edge to foot</dt><dd>([^<]+)", client.get(pattern).text)
    again = re.search(r'href="(/patterns/design\?[^"]*pattern=1[^"]*)"', client.get(pattern).text)
    assert again is not None
    form = client.get(again[1].replace("&amp;", "&"))
    assert "Save as a new revision" in form.text
    sent = ASKED | {"pattern": "1", "wall": "6 mm"}
    assert "fill this in" in wrong(client.post("/patterns/design", data=sent).text, "note")
    second = client.post("/patterns/design", data=sent | {"note": "a thicker wall"})
    assert second.url.path == "/patterns/1/2"
    other_key = client.post("/patterns/design", data=sent | {"key": "B4", "note": "x"})
    assert other_key.status_code == 409
    assert "save a new pattern instead" in other_key.text
    after = re.search(r"<dt>Splitting edge to foot</dt><dd>([^<]+)", client.get(pattern).text)
    assert before is not None
    assert after is not None
    assert before[1] == after[1]
    assert "a thicker wall" in client.get("/patterns/1").text


def test_a_revision_is_proven_by_someone_and_no_longer_proven_for_a_reason(client: TestClient, pattern: str) -> None:
    page = client.post(f"{pattern}/proven")
    assert "by Ines Varga" in page.text
    twice = client.post(f"{pattern}/proven")
    assert (twice.status_code, "already proven" in twice.text, "Splitting edge to foot" in twice.text) == (
        409,
        True,
        True,
    ), "a refusal stands on the revision's own page"
    assert "A4 to test with" in client.get("/patterns?show=proven").text
    assert "fill this in" in wrong(client.post(f"{pattern}/no-longer-proven", data={"why": ""}).text, "why")
    client.post(f"{pattern}/no-longer-proven", data={"why": "the last two came out flat"})
    assert "the last two came out flat" in client.get("/patterns/1").text
    assert "A4 to test with" not in client.get("/patterns?show=proven").text
    twice = client.post(f"{pattern}/no-longer-proven", data={"why": "x"})
    assert (twice.status_code, "is not proven" in twice.text) == (409, True)
    for nowhere in ("/patterns/99999999999999999999/1", "/patterns/1/99999999999999999999"):
        for move in ("proven", "no-longer-proven"):
            assert client.post(f"{nowhere}/{move}", data={"why": "x"}).status_code == 404


@pytest.mark.parametrize(
    "address", ["/patterns/9", "/patterns/1/9", "/patterns/9999999999999", "/patterns/x", "/patterns/design?pattern=9"]
)
def test_what_does_not_exist_is_not_found(client: TestClient, pattern: str, address: str) -> None:
    assert client.get(address).status_code == 404


def test_someone_who_may_only_look_may_design_but_not_save(client: TestClient, pattern: str) -> None:
    signed_in(client, "kit")
    assert "Save as a pattern" not in client.get("/patterns/design", params=ASKED).text
    assert "<form" not in client.get(pattern).text.split("<main")[1]
    assert client.post("/patterns/design", data=ASKED | {"name": "mine"}).status_code == 403
    assert client.post(f"{pattern}/proven").status_code == 403
    assert client.post(f"{pattern}/no-longer-proven", data={"why": "x"}).status_code == 403
