"""A pattern heard before it is cut: what the page says, the sound file, and what it refuses."""

import io
import re
import wave

import numpy as np
import pytest
from fastapi.testclient import TestClient

from acoustics.blowing.sounding import soundings
from acoustics.listening.notes import Listener
from tests import blanks as made
from tests.pages.patterns.test_patterns import ASKED
from tests.shops import OpenShop, signed_in
from webapp.models import PatternRevision, Shop
from webapp.shop.patterns import rules as patterns
from webapp.shop.patterns.revisions import notes_of
from webapp.shop.settings import air

HERE = "/patterns/1/1/listen"


@pytest.fixture
def pattern(client: TestClient) -> None:
    client.post("/patterns/design", data=ASKED | {"name": "A4 to test with"})
    signed_in(client, "kit")


def test_the_page_says_what_the_breath_does(client: TestClient, pattern: None) -> None:
    assert f'href="{HERE}"' in client.get("/patterns/1/1").text
    page = client.get(f"{HERE}?pressure=500").text
    assert "sketch of pitch and speech, not of tone" in page
    assert len(re.findall(r"data-finger=", page)) == 7
    harder = [int(n) for n in re.findall(r'data-label="10 % harder"\s+class="number">\+(\d+) cents', page)]
    assert len(harder) >= 5 and all(1 <= n <= 12 for n in harder)


def test_the_file_sounds_as_the_engine_says(client: TestClient, open_shop: OpenShop, pattern: None) -> None:
    answer = client.get(f"{HERE}.wav?pressure=600")
    assert answer.headers["content-type"] == "audio/wav" and "attachment" in answer.headers["content-disposition"]
    with wave.open(io.BytesIO(answer.content)) as file:
        rate, samples = file.getframerate(), np.frombuffer(file.readframes(file.getnframes()), "<i2")
    listener = Listener(rate)
    listener.feed(samples.astype(np.float32) / 32768)
    heard = [note.frequency for note in listener.finish()]
    with open_shop.database.read() as session:
        revision, shop = session.get(PatternRevision, 1), session.get(Shop, 1)
        assert revision is not None and shop is not None
        chart = tuple(note.fingering for note in notes_of(revision))
        notes = soundings(patterns.instrument_of(revision), air.played(shop), chart)
    tones = [note.tone(600.0).frequency for note in notes]
    expected = [one for one in tones if one]
    assert len(heard) == len(expected) >= 5
    assert np.abs(1200 * np.log2(np.array(heard) / np.array(expected))).max() < 1.0


def test_a_swell_as_a_file(client: TestClient, pattern: None) -> None:
    answer = client.get(f"{HERE}.wav?pressure=600&way=swell")
    assert answer.status_code == 200 and answer.content[:4] == b"RIFF"


@pytest.mark.parametrize("pressure", ["", "soft", "9", "10001", "-5", "nan", "inf", "1e400", "5" * 300])
@pytest.mark.parametrize("ending", ["", ".wav"])
def test_what_is_no_breath_is_refused_at_its_field(
    client: TestClient, pattern: None, ending: str, pressure: str
) -> None:
    page = client.get(f"{HERE}{ending}", params={"pressure": pressure})
    assert page.status_code == 422
    assert "f-pressure-wrong" in page.text
    assert f'value="{pressure[:20]}"' in page.text


def test_no_flue_no_sound(open_shop: OpenShop, client: TestClient) -> None:
    with open_shop.database.write() as session:
        revision = session.get(PatternRevision, made.pattern(session, open_shop.maker))
        assert revision is not None
        revision.instrument = {k: v for k, v in revision.instrument.items() if k not in ("flue", "chamber")}
        session.add(revision)
        session.commit()
    for ending in ("", ".wav"):
        page = client.get(HERE + ending)
        assert page.status_code == 200 and "without them there is no jet" in page.text
    for nowhere in ("/patterns/9/1/listen", "/patterns/1/9/listen.wav"):
        assert client.get(nowhere).status_code == 404
