"""A recording at the bench: heard, shown, confirmed by a person; and every file that is none refused at its field."""

import re
import threading
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import select

from tests.acoustics.listening import recordings, sounds
from tests.pages.bench.test_bench import HERE, bring
from tests.shops import OpenShop, signed_in
from webapp.models import Reading
from webapp.pages.bench import recording as bench_recording
from webapp.settings import Settings

ROOM = {"temperature": "20", "humidity": "50", "warmed_up": "on"}


def cents(frequency: float, off: float) -> float:
    return frequency * 2 ** (off / 1200)


@pytest.fixture
def played(tmp_path: Path) -> bytes:
    """A4 twelve cents flat, C5 seven cents sharp, in equal temperament (A4 = 440 Hz, ISO 16)."""
    rest = np.zeros(24000)
    parts = [rest, sounds.tone(cents(440.0, -12), 1.2), rest, sounds.tone(cents(523.2511, 7), 1.2), rest]
    return recordings.write(tmp_path / "played.wav", 0.3 * np.concatenate(parts)).read_bytes()


def sent(client: TestClient, file: bytes, name: str = "played.wav", **more: str):  # type: ignore[no-untyped-def]
    files = {"recording": (name, file, "audio/wav")}
    return client.post(f"{HERE}/recording", data=ROOM | more, files=files)


def stored(shop: OpenShop) -> list[Reading]:
    with shop.database.read() as session:
        return list(session.exec(select(Reading).where(Reading.stage == "tuning")))


def test_notes_are_recognised_and_written_down_one_by_one(
    client: TestClient, open_shop: OpenShop, played: bytes
) -> None:
    bring(open_shop, "tuned")
    page = sent(client, played)
    assert page.status_code == 200 and stored(open_shop) == []
    assert re.findall(r"found__cents--[\w-]+\">(\S+) <span>(\w+)", page.text) == [("−12", "flat"), ("+7", "sharp")]
    forms = re.findall(r"<form[^>]*/readings\".*?</form>", page.text, re.S)[:2]
    first = dict(re.findall(r'name="(\w+)"\s+value="([^"]*)"', forms[0]))
    fingering = re.search(r'<option\s+value="([xo]+)"', forms[0])
    assert fingering and fingering[1] == "xxxxxx"
    page = client.post(f"{HERE}/readings", data=first | {"fingering": fingering[1]})
    [reading] = stored(open_shop)
    assert reading.note_name == "A4" and reading.cents == pytest.approx(-12, abs=0.5)
    # The other one is still offered, and sending the first again stores nothing further.
    assert "C5" in page.text and "found__cents--sharp" in page.text and "found__cents--flat" not in page.text
    client.post(f"{HERE}/readings", data=first | {"fingering": fingering[1]})
    assert len(stored(open_shop)) == 1


def test_all_notes_heard_are_written_by_one_tap(client: TestClient, open_shop: OpenShop, played: bytes) -> None:
    bring(open_shop, "tuned")
    page = sent(client, played)
    assert "Write all 2 down" in page.text
    form = re.search(r'<form action="[^"]*/heard".*?</form>', page.text, re.S)
    assert form
    asked = dict(re.findall(r'name="(\w+)"\s+value="([^"]*)"', form[0]))
    page = client.post(f"{HERE}/heard", data=asked)
    assert "Written down: 2 notes." in page.text
    assert [(one.note_name, round(one.cents)) for one in stored(open_shop)] == [("A4", -12), ("C5", 7)]
    # Sent again, it is carried out once; nothing of this flute is refused in words.
    client.post(f"{HERE}/heard", data=asked)
    assert len(stored(open_shop)) == 2
    refused = client.post(f"{HERE}/heard", data=ROOM | {"heard": "40.00~1.2~1.0"})
    assert refused.status_code == 422 and "None of what was heard" in refused.text


def test_an_overblown_note_is_shown_and_offered_as_no_reading(
    client: TestClient, open_shop: OpenShop, tmp_path: Path
) -> None:
    """A4 overblown sounds where this flute's A5 does."""
    bring(open_shop, "tuned")
    rest = np.zeros(24000)
    sound = np.concatenate([rest, sounds.traced(882.0, -20.0, seconds=1.5), rest])
    page = sent(client, recordings.write(tmp_path / "jumped.wav", 0.3 * sound).read_bytes())
    shown = page.text[page.text.index('id="heard"') : page.text.index("Leave the rest")]
    assert page.status_code == 200 and "Overblown" in shown and "softer" in shown
    assert "Write it down" not in shown


def test_the_air_counts(client: TestClient, open_shop: OpenShop, played: bytes) -> None:
    bring(open_shop, "tuned")
    page = sent(client, played, warmed_up="").text
    # Thirteen cents or so between a cold flute and a played one: 0.61 m/s to a degree (Cramer 1993).
    assert re.findall(r"found__cents--[\w-]+\">(\S+) ", page) == ["+1", "+20"]


def test_at_voicing_only_the_lowest_note_is_awaited(client: TestClient, open_shop: OpenShop, played: bytes) -> None:
    bring(open_shop, "fundamental")
    page = sent(client, played).text
    heard = re.findall(r'<select\s+name="fingering">(.*?)</select>', page, re.S)
    assert [choices.count("<option") for choices in heard] == [1, 1]
    assert all('value="xxxxxx"' in choices for choices in heard)


@pytest.mark.parametrize(
    ("file", "name", "says"),
    [
        (b"", "empty.wav", "It is empty"),
        (b"hello, this is no sound at all" * 9, "letter.wav", "It must be a recording"),
        (b"RIFF\xff\xff\xff\x7fWAVEfmt " + bytes(40), "cut.wav", "save it again"),
        (b"OggS" + bytes(900), "cut.ogg", "It must be"),
        (b"\xff\xfb\x90\x00" * 50, "cut.mp3", "It must be"),
        (b"\x00\x00\x00\x18ftypM4A " + bytes(99), "cut.m4a", "It must be"),
    ],
)
def test_what_is_no_recording_is_refused_at_its_field(
    client: TestClient, open_shop: OpenShop, file: bytes, name: str, says: str
) -> None:
    bring(open_shop, "tuned")
    page = sent(client, file, name)
    assert page.status_code == 422
    wrong = re.search(r'id="recording-f-recording-wrong">(.*?)</span>', page.text, re.S)
    assert wrong and says in wrong[1]


def test_silence_is_no_note(client: TestClient, open_shop: OpenShop, tmp_path: Path) -> None:
    bring(open_shop, "tuned")
    page = sent(client, recordings.write(tmp_path / "quiet.flac", np.zeros(96000)).read_bytes(), "quiet.flac")
    assert page.status_code == 422 and "No steady note is in it" in page.text


def test_too_large_or_too_long_is_said_at_the_field(
    client: TestClient, app: FastAPI, open_shop: OpenShop, tmp_path: Path
) -> None:
    bring(open_shop, "tuned")
    app.state.settings = Settings(data=tmp_path, largest_recording=100_000)
    page = sent(client, bytes(150_000))
    assert page.status_code == 422 and "at most 0.1 megabytes" in page.text
    app.state.settings = Settings(data=tmp_path)
    long = recordings.write(tmp_path / "long.wav", np.zeros(181 * 8000), rate=8000).read_bytes()
    page = sent(client, long)
    assert page.status_code == 422 and "It must be at most 180 seconds long." in page.text
    # Forms keep their own, smaller limit.
    assert client.post(f"{HERE}/readings", data={"note": "x" * 1_100_000}).status_code == 413


@pytest.mark.parametrize("data", [{}, {"recording": "not a file"}, {"temperature": "hot"}, {"humidity": "inf"}])
def test_a_form_without_a_file_or_air(client: TestClient, open_shop: OpenShop, data: dict[str, str]) -> None:
    bring(open_shop, "tuned")
    page = client.post(f"{HERE}/recording", data=ROOM | data)
    assert page.status_code == 422 and "recording-f-" in page.text
    junk = {"content-type": "multipart/form-data; boundary=x"}
    assert client.post(f"{HERE}/recording", content=b"--y\r\n", headers=junk).status_code in (400, 422)


@pytest.mark.parametrize(
    "query",
    ["heard=", "heard=nan~1~1&temperature=20", "heard=440.00~1.0~1.0", "heard=440.00~1.0~1.0&temperature=x&humidity=1",
     "heard=" + ",".join(["440.00~1.0~1.0"] * 500) + "&temperature=20&humidity=50", "heard=9999.0~1.0~1.0"],
)  # fmt: skip
def test_an_address_that_someone_made_up(client: TestClient, open_shop: OpenShop, query: str) -> None:
    bring(open_shop, "tuned")
    page = client.get(f"{HERE}?{query}")
    assert page.status_code == 200 and page.text.count("found__what") in (0, 30)


def test_many_notes_fit_the_address_that_is_remembered(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "tuned")
    heard = ",".join(["1046.502~100.0~12.5"] * 30)
    data = ROOM | {"fingering": "xxxxxx", "pitch": "440", "heard": heard, "which": "3", "once": "a" * 22 + "-4"}
    answer = client.post(f"{HERE}/readings", data=data, follow_redirects=False)
    assert answer.status_code == 303
    left = parse_qs(urlsplit(answer.headers["location"]).query)["heard"][0]
    assert left.count("~") == 2 * 29


def test_two_at_once_and_no_more(
    client: TestClient, open_shop: OpenShop, played: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    bring(open_shop, "tuned")
    monkeypatch.setattr(bench_recording, "PATIENCE", 0.01)
    monkeypatch.setattr(bench_recording, "_listening", threading.BoundedSemaphore(1))
    with bench_recording._listening:
        page = sent(client, played)
    assert page.status_code == 409 and "Send it again in a moment" in page.text
    assert sent(client, played).status_code == 200


def test_who_only_looks_or_is_not_signed_in_sends_nothing(
    client: TestClient, open_shop: OpenShop, played: bytes
) -> None:
    bring(open_shop, "tuned")
    viewer = signed_in(client, "kit")
    assert sent(viewer, played).status_code == 403
    viewer.cookies.clear()
    files = {"recording": ("played.wav", played, "audio/wav")}
    answer = viewer.post(f"{HERE}/recording", data=ROOM, files=files, follow_redirects=False)
    assert answer.status_code == 303 and answer.headers["location"].startswith("/sign-in")
    assert signed_in(client, "ines").post("/bench/4711/recording", data=ROOM, files=files).status_code == 404
