"""What is told to programs that watch, and what is written down of each request."""

import json
import logging
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi import FastAPI, WebSocketDisconnect
from fastapi.testclient import TestClient
from prometheus_client.parser import text_string_to_metric_families

from tests import blanks as made
from tests.shops import ORIGIN, OpenShop
from webapp.app import make_app
from webapp.security.headers import ALWAYS
from webapp.serving import logs
from webapp.settings import Settings


def counted(text: str) -> dict[tuple[str, str], float]:
    samples = [sample for family in text_string_to_metric_families(text) for sample in family.samples]
    return {
        (s.name, next((s.labels[k] for k in ("stage", "route", "state") if k in s.labels), "")): s.value
        for s in samples
    }


def test_alive_ready_and_counted(open_shop: OpenShop, app: FastAPI) -> None:
    with open_shop.database.write() as session:
        made.opened(session, open_shop.maker, flute_id=made.order(session))
    with TestClient(app, client=("127.0.0.1", 5000)) as near:
        assert near.get("/healthz").text == "alive\n"
        assert near.get("/readyz").json() == {"database": True, "schema": True, "writing": True}
        near.get("/blanks/0001")
        found = counted(near.get("/metrics").text)
        assert found["flutebench_blanks_in_work", "boring"] == 1
        assert found["flutebench_requests_total", "/blanks/{serial}"] == 1
        assert found["flutebench_orders_open", "in the shop"] == 1
        assert found["flutebench_backup_timestamp_seconds", ""] == found["flutebench_backup_failing", ""] == 0
        assert found["process_resident_memory_bytes", ""] > 1e6
        assert near.get("/metrics", headers={"x-forwarded-for": "192.0.2.1"}).status_code == 403
    with TestClient(app, client=("192.0.2.1", 5000)) as far:
        assert far.get("/metrics").status_code == 403


def test_elsewhere_the_counts_take_a_token(migrated_database_url: str, tmp_path: Path) -> None:
    settings = Settings(data=tmp_path, database_url=migrated_database_url, metrics_token="a long token")
    app, told = make_app(settings), {"authorization": "Bearer a long token"}
    with TestClient(app, "https://testserver", client=("192.0.2.1", 5000)) as far:
        assert far.get("/metrics", headers=told).status_code == 200
        for given in ("Bearer another", "a long token", ""):
            assert far.get("/metrics", headers={"authorization": given}).status_code == 403
        assert far.get("http://testserver/metrics", headers=told).status_code == 403
    with TestClient(app, client=("127.0.0.1", 5000)) as near:
        assert near.get("/metrics", headers=told).status_code == 200


def test_not_ready_without_its_tables(tmp_path: Path) -> None:
    with TestClient(make_app(Settings(data=tmp_path, database_url=f"sqlite:///{tmp_path}/empty.sqlite3"))) as browser:
        answer = browser.get("/readyz")
        assert (answer.status_code, answer.json()) == (503, {"database": True, "schema": False, "writing": False})
        assert browser.get("/").status_code == 503
    with TestClient(make_app(Settings(data=tmp_path, database_url=f"sqlite:///{tmp_path}/no/folder"))) as browser:
        assert browser.get("/readyz").json() == {"database": False, "schema": False, "writing": False}


def test_the_log_names_routes_and_marks_but_nobody(
    client: TestClient, app: FastAPI, caplog: pytest.LogCaptureFixture
) -> None:
    def broken() -> None:
        raise RuntimeError("a fault for this test")

    with caplog.at_level(logging.INFO):
        client.get("/customers", params={"q": "Zo\u00eb Customer"})
        client.get("/nowhere/secret")
        with suppress(WebSocketDisconnect), client.websocket_connect("/bench/secret/listen"):
            pass
        app.get("/breaks")(broken)
        answer = client.get("/breaks", headers={"origin": ORIGIN})
    assert answer.status_code == 500
    mark = answer.headers["x-request-mark"]
    assert f"with the mark {mark}" in answer.text
    for name in ALWAYS:
        assert name in answer.headers
    said = "\n".join(record.getMessage() for record in caplog.records if record.name.startswith("flutebench"))
    assert mark in said
    assert "GET /customers 200" in said
    assert "GET none 404" in said
    assert "socket /bench/{serial}/listen 403" in said
    for secret in ("Zo", "secret", "testclient", "ines"):
        assert secret not in said


def test_the_log_is_json_for_programs(capsys: pytest.CaptureFixture[str]) -> None:
    root = logging.getLogger()
    before = root.handlers[:], root.level
    try:
        logs.set_up(json=True)
        # The server's own words of a socket, with the network address and the serial in it.
        logging.getLogger("uvicorn.error").info('%s - "WebSocket %s" [accepted]', "192.0.2.7:1", "/bench/1/listen")
        logging.getLogger("flutebench.requests").info("GET / 200", extra={"ms": 1.5, "mark": "ab"})
        line = json.loads(capsys.readouterr().err)
        assert datetime.fromisoformat(line["at"]).tzinfo == UTC
        assert (line["level"], line["message"], line["ms"], line["mark"]) == ("INFO", "GET / 200", 1.5, "ab")
        logs.set_up(json=False)
        logging.getLogger("flutebench.requests").info("GET / 200", extra={"ms": 1.5, "mark": "ab"})
        assert capsys.readouterr().err.endswith("GET / 200 in 1.5 ms [ab]\n")
    finally:
        root.handlers[:], root.level = before[0], before[1]
