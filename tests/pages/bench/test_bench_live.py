"""The microphone's socket: who may open it, what it answers, and what ends it."""

import json
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from sqlmodel import delete
from starlette.testclient import WebSocketDenialResponse, WebSocketTestSession
from starlette.websockets import WebSocketDisconnect

from tests.acoustics.listening import sounds
from tests.pages.bench.test_bench import HERE, bring
from tests.shops import OpenShop, signed_in
from webapp.models import SignIn
from webapp.pages.bench import live as bench_live

WISH = {"rate": 8000, "temperature": "20", "humidity": "50", "warmed_up": True, "fingering": "", "hold": False}


@contextmanager
def ears(client: TestClient, address: str = f"{HERE}/listen", **headers: str) -> Iterator[WebSocketTestSession]:
    with client.websocket_connect(address, headers=headers) as socket:
        yield socket


def said(socket: WebSocketTestSession) -> Any:
    return json.loads(socket.receive_text())


def ended(socket: WebSocketTestSession) -> tuple[str, int]:
    """The words with which the bench ends it, and the code."""
    words = said(socket)["over"]
    with pytest.raises(WebSocketDisconnect) as closed:
        socket.receive_text()
    return words, closed.value.code


@pytest.mark.parametrize("name", ["ines", "kit"])
def test_a_tone_is_shown(client: TestClient, open_shop: OpenShop, name: str) -> None:
    bring(open_shop, "tuned")
    tone = (0.3 * sounds.tone(523.2511, 0.5, rate=8000) * 32767).astype("<i2")
    with ears(signed_in(client, name)) as socket:
        socket.send_text(json.dumps(WISH))
        for begin in range(0, 4000, 80):
            socket.send_bytes(tone[begin : begin + 80].tobytes())
        while not (shown := said(socket)).get("steady"):
            pass
        assert (shown["note"], shown["fingering"], shown["word"]) == ("C5", "xxxxxo", "in tune")
        socket.send_text(json.dumps(WISH | {"temperature": "very"}))
        while "wrong" not in (shown := said(socket)):
            pass
        assert shown["wrong"] == {"temperature": "Write a temperature, such as 20 or 68 F."}


@pytest.mark.parametrize(
    ("text", "block", "words"),
    [
        (None, b"\0\0", "must say first"),
        (WISH, b"\0", "not a block of sound"),
        (WISH, b"\0" * 90_000, "not a block of sound"),
        ("x" * 1001, None, "too long"),
    ],
)
def test_what_ends_it(client: TestClient, open_shop: OpenShop, text: Any, block: bytes | None, words: str) -> None:
    bring(open_shop, "tuned")
    with ears(client) as socket:
        if text is not None:
            socket.send_text(text if isinstance(text, str) else json.dumps(text))
        if block is not None:
            socket.send_bytes(block)
        told, code = ended(socket)
        assert words in told and code == 1008


@pytest.mark.parametrize(
    "text", ["", "null", "[]", "{", '"rate"', "{}", '{"rate": 1e999}', '{"rate":48000,"temperature":{}}', "\\ud800"]
)
def test_what_is_no_wish_is_answered(client: TestClient, open_shop: OpenShop, text: str) -> None:
    bring(open_shop, "tuned")
    with ears(client) as socket:
        socket.send_text(text)
        assert said(socket)["wrong"]


def test_faster_than_sound(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "tuned")
    with ears(client) as socket:
        socket.send_text(json.dumps(WISH))
        for _ in range(400):
            socket.send_bytes(np.zeros(2000, "<i2").tobytes())
        assert said(socket) == {"sounds": False}
        assert "faster than a microphone" in ended(socket)[0]


def test_what_waits_is_heard_in_one_go(
    client: TestClient, open_shop: OpenShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A busy machine falls behind by the time of one analysis, not by one more with each block."""
    bring(open_shop, "tuned")
    hear = bench_live.Ear.hear

    def slowly(ear: bench_live.Ear, blocks: Any, elapsed: float) -> Any:
        time.sleep(0.05)
        return hear(ear, blocks, elapsed) | {"sounds": True}

    monkeypatch.setattr(bench_live.Ear, "hear", slowly)
    with ears(signed_in(client, "ines")) as socket:
        socket.send_text(json.dumps(WISH))
        for _ in range(64):
            socket.send_bytes(bytes(160))
        socket.send_text(json.dumps(WISH | {"temperature": "very"}))
        answers = 0
        while "wrong" not in said(socket):
            answers += 1
    assert answers < 20


def test_a_page_that_says_nothing(client: TestClient, open_shop: OpenShop, monkeypatch: pytest.MonkeyPatch) -> None:
    bring(open_shop, "tuned")
    monkeypatch.setattr(bench_live, "SILENT", 0.05)
    with ears(client) as socket:
        words, code = ended(socket)
        assert "Nothing was heard" in words and code == 1000


def test_a_sign_in_that_is_ended_ends_the_listening(
    client: TestClient, open_shop: OpenShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    bring(open_shop, "tuned")
    monkeypatch.setattr(bench_live, "LOOK_AGAIN", 0.0)
    with ears(client) as socket:
        for _ in range(20):
            socket.send_text("{}")
            assert said(socket)["wrong"]
        with open_shop.database.write() as session:
            session.exec(delete(SignIn))
            session.commit()
        answers = []
        while not answers or "over" not in answers[-1]:
            socket.send_text("{}")
            answers.append(said(socket))
            time.sleep(0.01)  # the look-up runs beside the sound, and takes its time on a busy machine
            assert len(answers) < 6000
        assert "signed out" in answers[-1]["over"]


def test_only_so_many_at_once(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "tuned")
    with ExitStack() as opened:
        for _ in range(bench_live.SEATS_EACH):
            socket = opened.enter_context(ears(client))
            socket.send_text("{}")
            assert said(socket)["wrong"]
        with ears(client) as one_more:
            assert "Too many microphones" in ended(one_more)[0]
    with ears(client) as again:
        again.send_text("{}")
        assert said(again)["wrong"]


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.example"},
        {"origin": "http://testserver.elsewhere.example"},
        {"origin": "null"},
        {"origin": ""},
        {"origin": "http://testserver:81"},
        {"origin": "http://testserver", "sec-fetch-site": "cross-site"},
    ],
)
def test_no_other_site_may_listen(client: TestClient, open_shop: OpenShop, headers: dict[str, str]) -> None:
    bring(open_shop, "tuned")
    with pytest.raises((WebSocketDisconnect, WebSocketDenialResponse)), ears(client, **headers):
        pass


def test_strangers_and_what_can_not_sound(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "bore")
    for address in (f"{HERE}/listen", "/bench/4711/listen", "/bench/a%00b/listen"):
        with pytest.raises((WebSocketDisconnect, WebSocketDenialResponse)), ears(client, address):
            pass
    bring(open_shop, "tuned")
    client.cookies.clear()
    with pytest.raises((WebSocketDisconnect, WebSocketDenialResponse)), ears(client, "/bench/0002/listen"):
        pass
    client.cookies.set("flutebench", "made-up")
    with pytest.raises((WebSocketDisconnect, WebSocketDenialResponse)), ears(client, "/bench/0002/listen"):
        pass
