"""The first run and the door: what a browser sees before and after signing in."""

import re

import pytest
from fastapi.testclient import TestClient

from tests.shops import ORIGIN, PASSWORD

FIRST_RUN = {
    "shop_name": "Alder Lane",
    "owner_name": "Ines",
    "sign_in_name": "ines",
    "password": PASSWORD,
    "units": "mm",
    "paper": "A4",
    "currency": "EUR",
    "timezone": "Europe/Lisbon",
}


def test_an_empty_shop_leads_to_the_first_run_and_then_lets_the_owner_in(stranger: TestClient) -> None:
    assert stranger.get("/orders").url.path == "/first-run"
    answer = stranger.post("/first-run", data=FIRST_RUN)
    assert (answer.status_code, answer.url.path) == (200, "/")
    assert "Alder Lane" in answer.text
    assert stranger.get("/first-run").url.path == "/"


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("shop_name", ""),
        ("shop_name", "x" * 121),
        ("owner_name", " "),
        ("password", "short"),
        ("units", "cubits"),
        ("paper", "papyrus"),
        ("currency", "XXQ"),
        ("timezone", "Mars/Olympus"),
    ],
)
def test_the_first_run_says_what_is_wrong_and_keeps_what_was_typed(
    stranger: TestClient, field: str, typed: str
) -> None:
    answer = stranger.post("/first-run", data=FIRST_RUN | {field: typed})
    assert answer.status_code == 422
    assert f'id="f-{field}-wrong"' in answer.text
    kept = "owner_name" if field != "owner_name" else "shop_name"
    assert f'value="{FIRST_RUN[kept]}"' in answer.text
    assert PASSWORD not in answer.text


def test_a_wrong_password_is_refused_at_its_field_and_the_name_is_kept(client: TestClient) -> None:
    client.cookies.clear()
    answer = client.post("/sign-in", data={"sign_in_name": "ines", "password": "a wrong guess"})
    assert answer.status_code == 422
    assert 'id="f-password-wrong"' in answer.text
    assert 'value="ines"' in answer.text


def test_signing_in_leads_to_the_page_that_was_asked_for(client: TestClient) -> None:
    client.cookies.clear()
    door = client.get("/stock")
    assert door.url.path == "/sign-in"
    then = re.search(r'name="then" value="([^"]*)"', door.text)
    assert then is not None
    answer = client.post(
        "/sign-in",
        data={"sign_in_name": "ines", "password": PASSWORD, "then": then[1]},
        follow_redirects=False,
    )
    assert answer.headers["location"] == "/stock"


@pytest.mark.parametrize(
    "then", ["//evil.example", "https://evil.example", "/\\evil.example", "javascript:alert(1)", "/\tx"]
)
def test_signing_in_never_leads_to_another_site(client: TestClient, then: str) -> None:
    client.cookies.clear()
    answer = client.post(
        "/sign-in", data={"sign_in_name": "ines", "password": PASSWORD, "then": then}, follow_redirects=False
    )
    assert answer.headers["location"] == "/"


def test_signing_out_ends_it(client: TestClient) -> None:
    cookies = dict(client.cookies)
    assert client.post("/sign-out").url.path == "/sign-in"
    client.cookies.update(cookies)
    assert client.get("/").url.path == "/sign-in"


def test_htmx_is_sent_to_the_door_as_a_whole_page(stranger: TestClient, client: TestClient) -> None:
    client.cookies.clear()
    answer = client.get("/", headers={"HX-Request": "true"})
    assert answer.headers["hx-redirect"] == "/sign-in"


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"sec-fetch-site": "cross-site", "origin": ORIGIN}, 403),
        ({"sec-fetch-site": "same-site", "origin": ORIGIN}, 403),
        ({"sec-fetch-site": "same-origin"}, 303),
        ({"origin": "http://evil.example"}, 403),
        ({"origin": "null"}, 403),
        ({"origin": ""}, 403),
        ({"origin": "", "referer": ORIGIN + "/sign-in"}, 303),
        ({"origin": "", "referer": "http://evil.example/testserver"}, 403),
    ],
)
def test_only_our_own_pages_may_send_forms(client: TestClient, headers: dict[str, str], status: int) -> None:
    answer = client.post("/sign-out", headers=headers, follow_redirects=False)
    assert answer.status_code == status


def test_every_answer_carries_the_security_headers(client: TestClient) -> None:
    for address in ("/sign-in", "/no-such-page", "/fonts/x/SourceSansPro-Regular-usual.woff2"):
        headers = client.get(address).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(client: TestClient) -> None:
    client.cookies.clear()
    answer = client.post("/sign-in", data={"sign_in_name": "ines", "password": PASSWORD}, follow_redirects=False)
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=lax" in cookie


def test_a_form_that_is_too_large_is_refused(client: TestClient) -> None:
    answer = client.post("/sign-in", content=b"x" * 1_100_000, headers={"content-type": "text/plain"})
    assert answer.status_code == 413


@pytest.mark.parametrize(
    "address",
    [
        "/static/x/../app.py",
        "/static/x/%2e%2e/pyproject.toml",
        "/fonts/x/no.woff2",
        "/fonts/x/SourceSansPro-Regular.woff2",
        "/library/x/no.js",
    ],
)
def test_only_our_own_files_are_served(client: TestClient, address: str) -> None:
    assert client.get(address).status_code == 404


@pytest.mark.parametrize("address", ["/blanks/TQ%00", "/%00", "/patterns/%00/1", "/static/x/%00"])
def test_an_address_with_a_nul_names_nothing(client: TestClient, address: str) -> None:
    assert client.get(address).status_code == 404


def test_a_nul_in_what_is_asked_is_left_out(client: TestClient) -> None:
    assert client.get("/search?q=nobody%00%2500").status_code == 200
    assert client.get("/orders?show=%00").status_code < 500
