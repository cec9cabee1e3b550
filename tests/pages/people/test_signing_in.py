"""Rules of signing in, the password asked for again, and what people are told of their account."""

import re
from datetime import timedelta

import pyotp
import pytest
from fastapi.testclient import TestClient
from sqlmodel import delete, select

from tests.shops import ORIGIN, PASSWORD, OpenShop, signed_in
from webapp.models import SignIn, at, now
from webapp.pages.frame import desk
from webapp.shop.base.errors import NotAllowed, Stale
from webapp.shop.people import accounts, sign_in_rules
from webapp.shop.people.sign_in_rules import RulesAsked

AGAIN = "/me/password-again"
VERSION = re.compile(r'name="version" value="(\d+)"')


def set_up_second_step(browser: TestClient) -> pyotp.TOTP:
    secret = re.search(r'name="secret" value="([A-Z2-7]{32})"', browser.get("/me/second-step").text)
    assert secret is not None
    phone = pyotp.TOTP(secret[1])
    asked = {"present": PASSWORD, "secret": secret[1], "code": phone.at(now())}
    assert "spare codes" in browser.post("/me/second-step", data=asked).text
    return phone


def rules(browser: TestClient, second_step_for: str, sign_ins_last: str) -> int:
    version = VERSION.search(browser.get("/shop/signing-in").text)
    assert version is not None
    asked = {"second_step_for": second_step_for, "sign_ins_last": sign_ins_last, "version": version[1]}
    return browser.post("/shop/signing-in", data=asked, follow_redirects=False).status_code


def test_a_shop_that_wants_a_second_step_of_everyone(client: TestClient, open_shop: OpenShop) -> None:
    assert rules(client, "everyone", "month") == 422, "whoever asks it of others has one"
    set_up_second_step(client)
    assert rules(client, "owners", "month") == 303
    owner = dict(client.cookies)
    assert signed_in(client, "tam").get("/orders").url.path == "/orders", "a maker is not asked"
    client.cookies.clear()
    client.cookies.update(owner)
    assert rules(client, "everyone", "month") == 303
    assert "still owed" in client.get("/shop/signing-in").text
    assert client.post("/me/second-step/off", data={"present": PASSWORD}).status_code == 422
    signed_in(client, "tam")
    for address in ("/", "/orders", "/me"):
        assert client.get(address).url.path == "/me/second-step"
    assert client.post("/me/units", data={"units": "mm"}).url.path == "/me/second-step"
    set_up_second_step(client)
    assert client.get("/orders").url.path == "/orders"


def test_a_code_is_good_once(client: TestClient, open_shop: OpenShop) -> None:
    moment = now()  # stands still: a code is another one every 30 s
    with at(moment):
        phone = set_up_second_step(client)
        # Once more at the door, and with the same code twice: refused, and its owner is told.
        code = phone.at(moment)
        for _ in range(2):
            client.cookies.clear()
            client.post("/sign-in", data={"sign_in_name": "ines", "password": PASSWORD})
            refused = client.post("/sign-in/code", data={"code": code})
            assert refused.status_code == 422, "the code that switched it on is used up"
    with at(moment + timedelta(seconds=30)):
        client.post("/sign-in/code", data={"code": phone.at(now())})
        assert "typed a second time" in client.get("/orders").text


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_the_password_is_asked_for_again(client: TestClient, open_shop: OpenShop) -> None:
    before = dict(client.cookies)
    assert client.get("/shop/people/new").url.path == "/shop/people/new"
    with at(now() + desk.LOOKING + timedelta(minutes=1)):
        for address in ("/shop/people/new", "/me/keys", "/shop/backups", "/export/tables.zip", "/shop/signing-in"):
            page = client.get(address)
            assert (page.url.path, page.url.params["then"]) == (AGAIN, address)
        assert client.get("/orders").url.path == "/orders"
        # What was opened in time can still be sent.
        asked = {"name": "Ro", "sign_in_name": "ro", "role": "maker"}
        made = client.post("/shop/people/new", data=asked, follow_redirects=False)
        assert made.headers["location"].startswith("/shop/people/")
    with at(now() + desk.CHANGING + timedelta(minutes=1)):
        page = client.post("/shop/people/1", data={}, headers={"referer": ORIGIN + "/shop/people/1?x=1"})
        assert (page.url.path, page.url.params["then"]) == (AGAIN, "/shop/people/1")
        wrong = client.post(AGAIN, data={"present": "a wrong guess", "then": "/shop/people/1"})
        assert (wrong.status_code, 'id="f-present-wrong"' in wrong.text) == (422, True)
        for elsewhere in ("https://evil.example", "//evil.example", "/\\evil.example"):
            page = client.post(AGAIN, data={"present": PASSWORD, "then": elsewhere}, follow_redirects=False)
            assert page.headers["location"] == "/"
        assert client.get("/shop/people/1").url.path == "/shop/people/1"
        assert client.cookies["flutebench"] != before["flutebench"], "with more rights comes a fresh token"
        client.cookies.clear()
        client.cookies.update(before)
        assert client.get("/").url.path == "/sign-in", "and the old one is worth nothing"


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_an_account_is_told_what_happened_to_it(client: TestClient, open_shop: OpenShop) -> None:
    first = dict(client.cookies)
    assert "Your account" not in client.get("/orders").text, "the very first browser is no news"
    client.cookies.clear()
    client.headers["user-agent"] = "Mozilla/5.0 (iPad; CPU OS 17_4 like Mac OS X) Version/17.4 Mobile Safari/604.1"
    signed_in(client, "ines")
    assert "Your account" not in client.get("/orders").text, "nor is the browser that one sits at"
    tablet = dict(client.cookies)
    client.cookies.clear()
    client.cookies.update(first)
    assert "a browser not seen before: Safari on iPad" in client.get("/orders").text
    new = "seven tin horses run"
    client.post("/me/password", data={"present": PASSWORD, "password": new})
    assert "The password was changed" in client.get("/orders").text
    assert client.post("/me/news-heard", headers={"referer": ORIGIN + "/orders"}).url.path == "/orders"
    assert "Your account" not in client.get("/orders").text
    assert "The password was changed" in client.get("/me").text, "it stays in the diary"
    # Another role ends what was open with the old one, and is told.
    client.cookies.clear()
    client.cookies.update(tablet)
    assert client.get("/").url.path == "/sign-in"
    maker = dict(signed_in(client, "tam").cookies)
    client.cookies.clear()
    client.cookies.update(first)
    tam = f"/shop/people/{open_shop.maker.id}"
    client.post(tam, data={"name": "Tam", "role": "office", "active": "on"})
    client.cookies.clear()
    client.cookies.update(maker)
    assert client.get("/").url.path == "/sign-in"
    assert "is now office" in signed_in(client, "tam").get("/orders").text


def test_sign_ins_of_a_working_day(client: TestClient, open_shop: OpenShop) -> None:
    assert rules(client, "nobody", "day") == 303
    began = now()
    with at(began + timedelta(minutes=20)):
        assert client.get("/?mark=x&mine=", headers={"hx-request": "true"}).status_code == 200
        client.get("/glue-up/alarms")
    with at(began + timedelta(minutes=31)):
        assert client.get("/orders").url.path == "/sign-in", "a screen that only asks by itself was not used"
    with at(began + timedelta(minutes=40)):
        signed_in(client, "ines")
    for minutes in range(65, 40 + 12 * 60, 25):
        with at(began + timedelta(minutes=minutes)):
            assert client.get("/orders").url.path == "/orders"
    with at(began + timedelta(hours=12, minutes=41)):
        assert client.get("/orders").url.path == "/sign-in", "however much it was used"
    with open_shop.database.write() as session:
        who, asked = open_shop.owner, RulesAsked(second_step_for="nobody", sign_ins_last="month", version=0)
        with pytest.raises(NotAllowed):
            sign_in_rules.change(session, open_shop.office, asked)
        with pytest.raises(Stale) as stale:
            sign_in_rules.change(session, who, asked)
        asked = asked.model_copy(update={"version": int(stale.value.theirs["version"])})
        sign_in_rules.change(session, who, asked)
        # Whoever shortens them shortens those that are open.
        session.exec(delete(SignIn))
        with at(now() - timedelta(hours=13)):
            accounts.open_sign_in(session, session.get_one(accounts.Person, who.id), 30)
        accounts.open_sign_in(session, session.get_one(accounts.Person, who.id), 30)
        asked = RulesAsked(second_step_for="nobody", sign_ins_last="day", version=asked.version + 1)
        sign_in_rules.change(session, who, asked)
        kept = session.exec(select(SignIn).where(SignIn.expires_at > now())).all()
        assert len(kept) == 1 and kept[0].expires_at <= now() + accounts.A_DAY_UNUSED


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_a_meter_tells_how_hard_a_password_is_to_guess(stranger: TestClient, open_shop: OpenShop) -> None:
    assert 'hx-post="/password-strength"' in signed_in(stranger, "ines").get("/me").text
    stranger.cookies.clear()
    for typed, words in [
        ("", '<span id="strength"'),
        ("password1234", "Too easy"),
        ("tin horse", "Too short: 3 more"),
        ("x" * 129, "Too long"),
        ("seven tin horses run", "ery hard to guess"),
    ]:
        answer = stranger.post("/password-strength", data={"password": typed})
        assert (answer.status_code, words in answer.text) == (200, True), typed
        assert not typed or typed not in answer.text
