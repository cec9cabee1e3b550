"""What hardly was meant is asked about before it is kept: one question, one tap for yes, nothing typed is lost."""

import re

import pytest
from fastapi.testclient import TestClient
from sqlmodel import col, select

from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Cut, Reading, StepRecord
from webapp.shop.base.errors import Doubtful
from webapp.shop.bench import cuts, readings
from webapp.shop.bench.cuts import RecordCut
from webapp.shop.bench.readings import RecordReading

AIR = {"temperature": "20", "humidity": "50", "warmed_up": "on"}


def bring(shop: OpenShop, code: str) -> int:
    with shop.database.write() as session:
        blank = made.opened(session, shop.maker)[0]
        made.bring_to(session, shop.maker, blank, code)
        assert blank.id is not None
        return blank.id


def yes(page: str) -> str:
    found = re.search(r'name="sure"\s+value="([^"]+)"', page)
    assert found, page
    return found[1]


def last_reading(shop: OpenShop) -> Reading | None:
    with shop.database.read() as session:
        return session.exec(select(Reading).order_by(col(Reading.id).desc())).first()


def test_the_note_that_is_typed_picks_the_fingering(client: TestClient, open_shop: OpenShop) -> None:
    """C5 is chosen, the meter's A4 is typed: it was kept as a C5 of three semitones flat."""
    bring(open_shop, "tuned")
    page = client.post("/bench/0001/readings", data=AIR | {"fingering": "xxxxxo", "pitch": "A4 -12"}).text
    kept = last_reading(open_shop)
    assert kept and (kept.note_name, kept.fingering) == ("A4", "xxxxxx")
    assert "A4 -12 was typed: written down as A4, xxxxxx." in page


def test_hertz_of_another_note_are_asked_about_and_kept_after_a_yes(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "tuned")
    before = last_reading(open_shop)
    typed = AIR | {"fingering": "xxxxxo", "pitch": "437.2", "note": "soft breath"}
    page = client.post("/bench/0001/readings", data=typed)
    assert page.status_code == 409 and last_reading(open_shop) == before
    assert "nearer to A4 (xxxxxx): was C5 fingered?" in page.text and 'value="soft breath"' in page.text
    assert client.post("/bench/0001/readings", data=typed | {"sure": yes(page.text)}).status_code == 200
    kept = last_reading(open_shop)
    assert kept and (kept.note_name, kept.note) == ("C5", "soft breath")


def test_a_yes_to_one_question_is_none_to_another(open_shop: OpenShop) -> None:
    blank_id = bring(open_shop, "tuned")
    asked = {"fingering": "xxxxxo", "pitch": "437.2", "temperature": 20, "humidity": 50}
    with open_shop.database.write() as session:
        with pytest.raises(Doubtful) as question:
            readings.record(session, open_shop.maker, blank_id, RecordReading.model_validate(asked))
        other = asked | {"pitch": "431", "sure": question.value.sure}
        with pytest.raises(Doubtful):
            readings.record(session, open_shop.maker, blank_id, RecordReading.model_validate(other))


def test_a_gauge_eighteen_times_its_size_is_asked_about(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "bore-gauge")
    page = client.get("/blanks/0001").text
    form = re.search(r'action="(/blanks/0001/steps/\d+)"', page)
    assert form
    typed = {"value": "16 in", "outcome": "passed", "note": "first half"}
    asked = client.post(form[1], data=typed)
    assert asked.status_code == 409 and "406.4 mm was typed, and it should be 19.05 mm." in asked.text
    assert 'value="16 in"' in asked.text and 'value="first half"' in asked.text
    with open_shop.database.read() as session:
        assert all(record.value != 406.4 for record in session.exec(select(StepRecord)))
    client.post(form[1], data=typed | {"sure": yes(asked.text)})
    with open_shop.database.read() as session:
        assert any(record.value == pytest.approx(406.4) for record in session.exec(select(StepRecord)))


def test_a_foot_cut_far_past_its_finished_length_is_asked_about(open_shop: OpenShop) -> None:
    blank_id = bring(open_shop, "tuned")
    asked = {"control": 0, "size": 330.0 - 0.9 * 25.4}
    with open_shop.database.write() as session:
        with pytest.raises(Doubtful, match=r"The foot at .* shorter than the finished flute") as question:
            cuts.record(session, open_shop.maker, blank_id, RecordCut.model_validate(asked))
        assert session.exec(select(Cut)).first() is None
        kept = cuts.record(
            session, open_shop.maker, blank_id, RecordCut.model_validate(asked | {"sure": question.value.sure})
        )
        assert kept.size == asked["size"]
        assert cuts.record(
            session, open_shop.maker, blank_id, RecordCut.model_validate({"control": 6, "size": 7.2})
        ).before
