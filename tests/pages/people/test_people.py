"""Accounts as a browser sees them: invitations, the second step, signing out elsewhere, too many guesses."""

import re

import pyotp
from fastapi.testclient import TestClient

from tests.shops import PASSWORD, signed_in
from webapp.models import now
from webapp.shop.people import guesses

NEW = "six long cedar boards"


def test_someone_is_invited_and_chooses_a_password(client: TestClient) -> None:
    page = client.post("/shop/people/new", data={"name": "Ro", "sign_in_name": "ro", "role": "maker"})
    assert page.url.path.startswith("/shop/people/")
    made = client.post(f"{page.url.path}/invitation", data={"once": "a key of this form"})
    address = re.search(r"http://testserver(/invitation/[\w-]{43})", made.text)
    assert address is not None
    assert "<title>The invitation" in made.text
    # Sent again, the form does not show it again, nor make another.
    again = client.post(f"{page.url.path}/invitation", data={"once": "a key of this form"})
    assert "/invitation/" not in again.text.replace('/invitation"', "")
    client.cookies.clear()
    assert "Welcome, Ro" in client.get(address[1]).text
    refused = client.post(address[1], data={"password": "short"})
    assert (refused.status_code, 'id="f-password-wrong"' in refused.text) == (422, True)
    assert client.post(address[1], data={"password": NEW}).url.path == "/"
    assert "Ro" in client.get("/me").text
    assert client.get(address[1]).status_code == 404
    assert client.post(f"{page.url.path}/invitation", data={}).status_code == 403


def test_the_second_step_from_set_up_to_switched_off(client: TestClient) -> None:
    page = client.get("/me/second-step").text
    secret = re.search(r'name="secret" value="([A-Z2-7]{32})"', page)
    assert secret is not None
    phone = pyotp.TOTP(secret[1])
    wrong = client.post("/me/second-step", data={"present": PASSWORD, "secret": secret[1], "code": "1"})
    assert wrong.status_code == 422
    assert secret[1] in wrong.text
    on = client.post("/me/second-step", data={"present": PASSWORD, "secret": secret[1], "code": phone.at(now())})
    codes = re.findall(r"<code>([a-z0-9]{5}-[a-z0-9]{5})</code>", on.text)
    assert len(codes) == 8
    assert (
        client.post("/me/second-step", data={"present": PASSWORD, "secret": "no secret", "code": "1"}).status_code
        == 422
    )
    client.cookies.clear()
    half = client.post("/sign-in", data={"sign_in_name": "ines", "password": PASSWORD, "then": "/stock"})
    assert (half.url.path, half.url.params["then"]) == ("/sign-in/code", "/stock")
    assert client.get("/orders").url.path == "/sign-in"
    assert client.post("/sign-in/code", data={"code": "no", "then": "/stock"}).status_code == 422
    assert client.post("/sign-in/code", data={"code": codes[0], "then": "/stock"}).url.path == "/stock"
    assert "7 spare codes are left" in client.get("/me/second-step").text
    assert client.post("/me/second-step/spare-codes", data={"present": "no"}).status_code == 422
    fresh = client.post("/me/second-step/spare-codes", data={"present": PASSWORD}).text
    assert codes[1] not in fresh
    assert client.post("/me/second-step/off", data={"present": "no"}).status_code == 422
    assert client.post("/me/second-step/off", data={"present": PASSWORD}).url.path == "/me"
    assert signed_in(client, "ines").get("/orders").url.path == "/orders"


def test_one_signs_out_elsewhere_and_everywhere(client: TestClient) -> None:
    here = dict(client.cookies)
    client.headers["user-agent"] = "Mozilla/5.0 (iPad; CPU OS 17_4 like Mac OS X) Version/17.4 Mobile Safari/604.1"
    signed_in(client, "ines")
    page = client.get("/me").text
    assert "Safari on iPad" in page
    mark = re.search(r"/me/sign-ins/(\w+)/end", page)
    assert mark is not None
    client.post(f"/me/sign-ins/{mark[1]}/end")
    there = dict(client.cookies)
    client.cookies.clear()
    client.cookies.update(here)
    assert client.get("/me").url.path == "/sign-in"
    client.cookies.clear()
    client.cookies.update(there)
    answer = client.post("/me/sign-out-everywhere", follow_redirects=False)
    assert answer.headers["clear-site-data"] == '"storage"'
    assert client.get("/me").url.path == "/sign-in"


def test_too_many_guesses_are_told_at_the_field(client: TestClient) -> None:
    client.cookies.clear()
    for _ in range(guesses.TRIES_BY_NAME):
        client.post("/sign-in", data={"sign_in_name": "ines", "password": "a wrong guess"})
    answer = client.post("/sign-in", data={"sign_in_name": "ines", "password": PASSWORD})
    assert answer.status_code == 422
    assert "Too many wrong tries" in answer.text
    assert client.get("/").url.path == "/sign-in"


def test_over_https_the_cookies_belong_to_this_host_alone(client: TestClient) -> None:
    client.cookies.clear()
    client.base_url = client.base_url.copy_with(scheme="https")
    answer = client.post(
        "/sign-in",
        data={"sign_in_name": "ines", "password": PASSWORD},
        headers={"origin": "https://testserver"},
        follow_redirects=False,
    )
    for cookie in answer.headers.get_list("set-cookie"):
        assert cookie.startswith("__Host-flutebench")
        for mark in ("Secure", "HttpOnly", "SameSite=lax", "Path=/"):
            assert mark in cookie
        assert "Domain" not in cookie
    assert client.get("/me").url.path == "/me"
