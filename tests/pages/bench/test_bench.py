"""The tuning bench's screens."""

import re

import pytest
from fastapi.testclient import TestClient

from tests import blanks as made
from tests.shops import OpenShop, signed_in

HERE = "/bench/0001"
ASKED = {"fingering": "xxxxxx", "pitch": "A4 -9", "temperature": "20", "humidity": "50", "warmed_up": "on"}


def bring(shop: OpenShop, code: str) -> None:
    with shop.database.write() as session:
        blank = made.opened(session, shop.maker)[0]
        made.bring_to(session, shop.maker, blank, code)


def test_the_fundamental_at_voicing(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "fundamental")
    assert "/bench/0001" in client.get("/bench").text
    page = client.get(HERE).text
    assert "about 8 cents below its target" in page and "common practice" in page
    page = client.post(f"{HERE}/readings", data=ASKED).text
    assert "−9<span> cents</span>" in page and "as it should be before turning" in page
    done = re.search(r'action="(/blanks/0001/steps/\d+)"', page)
    assert done and "Recorded." in client.post(done[1], data={}).text


def test_every_note_at_tuning_raw_and_corrected(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "tuned")
    cold = {"pitch": "A4 -20", "warmed_up": ""}
    page = " ".join(client.post(f"{HERE}/readings", data=ASKED | cold).text.split())
    # Twenty cents flat in a cold flute is some thirteen less in a played one.
    assert re.search(r"−[67]<span> cents", page) and "−20 cents raw; +13 for the air" in page
    assert "flat" in page and "cold" in page
    # The note that the advice asks for is offered.
    asked = re.search(r"Play ([A-G]\S?\d)", page)
    ticked = re.search(r'value="[xo]{6}"[^>]*checked[^>]*>.*?([A-G]\S?\d)', page, re.S)
    assert asked and ticked and asked[1] == ticked[1] != "A4"
    page = client.post(f"{HERE}/readings", data=ASKED | {"fingering": "xxxxxo", "pitch": "C5 +12"}).text
    assert "12 sharp" in page


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"pitch": ""}, "Please fill this in."),
        ({"pitch": "loud"}, "Write what the meter shows"),
        ({"pitch": "880"}, "Did it jump to the octave"),
        ({"fingering": ""}, "Please fill this in."),
        ({"fingering": "oxxxxx"}, "Choose one"),
        ({"temperature": "hot"}, "Write a temperature"),
        ({"temperature": "-5"}, "Must be between 0 °C and 45 °C"),
        ({"humidity": "140"}, "Must be 100"),
        ({"humidity": "nan"}, "Write a number"),
        ({"note": "x" * 501}, "Use at most 500 characters."),
    ],
)
def test_what_can_not_be_is_said_at_its_field(
    client: TestClient, open_shop: OpenShop, typed: dict[str, str], says: str
) -> None:
    bring(open_shop, "fundamental")
    page = client.post(f"{HERE}/readings", data=ASKED | typed)
    assert page.status_code == 422
    assert says in page.text and "field__wrong" in page.text
    if typed.get("pitch"):
        assert f'value="{typed["pitch"]}"' in page.text


def test_a_wrong_reading_is_taken_back(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "fundamental")
    page = client.post(f"{HERE}/readings", data=ASKED).text
    link = re.search(r'href="(/bench/0001/readings/\d+)"', page)
    assert link and client.get(link[1]).status_code == 200
    assert client.post(link[1], data={}).status_code == 422
    page = client.post(link[1], data={"why": "a truck went by"}).text
    assert "taken back: a truck went by" in page and "not read" in page
    assert client.post(link[1], data={"why": "again"}).status_code == 409


def test_what_can_not_sound_is_not_read(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "bore")
    assert "sound yet" in client.get(HERE).text
    answer = client.post(f"{HERE}/readings", data=ASKED)
    assert answer.status_code == 409


def test_what_is_not_there_is_not_found(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "bore")
    assert client.get("/bench/4711").status_code == 404
    assert client.get(f"{HERE}/readings/99").status_code == 404
    assert client.post("/bench/4711/readings", data=ASKED).status_code == 404


def test_someone_who_only_looks_reads_nothing(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "fundamental")
    viewer = signed_in(client, "kit")
    assert 'method="post"' not in viewer.get(HERE).text.split("<main", 1)[1]
    assert viewer.post(f"{HERE}/readings", data=ASKED).status_code == 403
