"""What is refused, missing or broken is answered with the same headers as what is not, and tells nothing of the inside.

Sources: OWASP ASVS 4.0.3, 7.4.1, 12.3.1, 14.3.2, 14.3.3, 14.4.1 to 14.4.7, 14.5.1, 14.5.3; RFC 9110, 15.5 (statuses).
"""

import gzip
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx2 import Response
from sqlalchemy.exc import OperationalError
from starlette.testclient import WebSocketDenialResponse
from starlette.websockets import WebSocketDisconnect

from tests.shops import ORIGIN, PASSWORD, OpenShop
from webapp.app import make_app
from webapp.security.headers import ALWAYS
from webapp.settings import Settings

ON_SQLITE = pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
FORM = {"content-type": "application/x-www-form-urlencoded"}
INSIDE = ("Traceback", "site-packages", "sqlalchemy", "sqlite3", "/webapp/", ".py", "uvicorn", "starlette", "fastapi")


def carries_everything(answer: Response, status: int) -> None:
    assert answer.status_code == status, answer.text[:300]
    for name, value in ALWAYS.items():
        # A secret address tells even our own pages nothing of itself.
        allowed = {value, "no-referrer"} if name == "referrer-policy" else {value}
        assert answer.headers[name] in allowed, (status, name)
    kind = answer.headers.get("content-type", "")
    assert "cache-control" in answer.headers and ("charset=utf-8" in kind or not kind.startswith("text/"))
    assert "server" not in answer.headers and "access-control-allow-origin" not in answer.headers
    assert not [word for word in INSIDE if word in answer.text]


@ON_SQLITE
def test_every_refusal_carries_what_browsers_must_be_told(client: TestClient, app: FastAPI) -> None:
    def broken() -> None:
        raise RuntimeError("a secret of the inside")

    def busy() -> None:
        raise OperationalError("SELECT a_secret", {}, Exception("database is locked"))

    def full() -> None:
        raise OSError(28, "No space left on device", "/a/path/inside")

    for path, does in (("/breaks", broken), ("/is-busy", busy), ("/is-full", full)):
        app.get(path)(does)
    strange = {"origin": "http://evil.example"}
    answers = [
        (404, client.get("/nowhere")),
        (404, client.get("/orders/99999")),
        (404, client.get("/static/x/none.css")),
        (404, client.get("/blanks/0001/traveler.pdf")),
        (405, client.delete("/orders")),
        (405, client.put("/orders/1", data={"x": "y"})),
        (405, client.request("TRACE", "/")),
        (405, client.options("/orders")),
        (403, client.post("/sign-out", headers=strange)),
        (413, client.post("/shop/drills", content=b"x" * 1_100_000)),
        (413, client.post("/shop/drills", content=iter([b"x" * 600_000] * 2), headers=FORM)),
        (400, client.post("/shop/drills", data={f"f{n}": "x" for n in range(700)})),
        (421, client.get("/", headers={"host": "evil.example"})),
        (422, client.post("/shop/people/new", data={"name": ""})),
        (422, client.post("/me/password", data={"present": "x", "password": PASSWORD})),
        (500, client.get("/breaks")),
        (503, client.get("/is-busy")),
        (507, client.get("/is-full")),
        (401, client.get("/api/v1/orders")),
        (404, client.get("/api/v1/nowhere")),
        (405, client.delete("/api/v1/orders")),
        (303, client.post("/sign-out", follow_redirects=False)),
        (303, client.get("/orders", follow_redirects=False)),
        (200, client.get("/sign-in")),
        (422, client.post("/sign-in", data={"sign_in_name": "ines", "password": "no"})),
        (404, client.get("/status/nothing")),
        (404, client.get("/calendar/nothing.ics")),
        (404, client.get("/invitation/nothing")),
        (200, client.get("/healthz")),
        (403, client.get("/metrics")),
    ]
    for status, answer in answers:
        carries_everything(answer, status)
    for _, answer in answers:
        if answer.headers.get("content-type", "").startswith(("application/json", "application/problem+json")):
            assert answer.headers["content-disposition"].startswith("attachment")


@ON_SQLITE
@pytest.mark.parametrize("headers", [{"origin": ORIGIN}, {"origin": "http://evil.example"}, {}])
def test_a_socket_that_is_refused_never_opens(
    open_shop: OpenShop, stranger: TestClient, headers: dict[str, str]
) -> None:
    with (
        pytest.raises((WebSocketDenialResponse, WebSocketDisconnect)),
        stranger.websocket_connect("/bench/0001/listen", headers=headers),
    ):
        pass


@ON_SQLITE
def test_names_of_files_lead_nowhere_else(client: TestClient, tmp_path: Path) -> None:
    (tmp_path / "seal.key").write_text("a key")
    (tmp_path / "backups").mkdir()
    (tmp_path / "backups" / "notes.txt").write_text("a note")
    for name in (
        "..%2fseal.key",
        "..%2f..%2fetc%2fpasswd",
        "%2e%2e%2fseal.key",
        "notes.txt",
        "%2fetc%2fpasswd",
        "..",
        ".",
    ):
        for folder in ("/shop/backups", "/static/x", "/fonts", "/library/x", "/photos/1"):
            answer = client.get(f"{folder}/{name}")
            assert "a key" not in answer.text and "a note" not in answer.text and "root:" not in answer.text
            assert answer.status_code in (200, 303, 404), (folder, name)
            assert answer.status_code == 404 or answer.headers["content-type"].startswith("text/html")
    for host, status in (
        ("testserver:80", 200),
        ("testserver, evil.example", 421),
        ("evil.example:80@testserver", 421),
    ):
        assert client.get("/sign-in", headers={"host": host}).status_code == status
    # No address in a page is made from the host that a request claims.
    page = client.get("/sign-in", headers={"host": "another-name", "x-forwarded-host": "evil.example"})
    assert "evil.example" not in page.text and "another-name" not in page.text


@ON_SQLITE
def test_a_body_that_is_packed_is_not_unpacked(client: TestClient) -> None:
    """A megabyte of nothing packs into a kilobyte; here it stays a kilobyte that says nothing."""
    packed = gzip.compress(b"name=" + b"x" * 50_000_000)
    kind = {"content-type": "application/x-www-form-urlencoded", "content-encoding": "gzip"}
    answer = client.post("/shop/drills", content=packed, headers=kind)
    assert answer.status_code == 422


def test_behind_a_proxy_only_its_word_counts(tmp_path: Path) -> None:
    """Forwarded headers are uvicorn's to read, and it reads them from the setting's addresses alone."""
    from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

    told = make_app(Settings(data=tmp_path, database_url=f"sqlite:///{tmp_path}/none/x"))
    forwarded = {"x-forwarded-proto": "https", "x-forwarded-for": "192.0.2.77"}
    for believed, secure in (("testclient", True), ("192.0.2.1", False)):
        with TestClient(ProxyHeadersMiddleware(told, trusted_hosts=believed)) as browser:
            answer = browser.get("/trust", headers=forwarded)
            assert ("strict-transport-security" in answer.headers) is secure
