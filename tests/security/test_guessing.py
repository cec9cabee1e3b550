"""Guesses at every secret, sent at the very same time: no more of them are compared than the limit. On both databases.

Sources: OWASP ASVS 4.0.3, 2.2.1 and 11.1.6 (time of check and time of use); NIST SP 800-63B, 5.2.2.
"""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests.doors import enter, with_second_step
from tests.shops import ORIGIN, PASSWORD, OpenShop, signed_in
from webapp.security import passwords
from webapp.shop.people import guesses, second_step

AT_ONCE = 48
NEW = "six long cedar boards"
SECRET = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"


class Compared:
    """Counts how often a function is called, which a thread that lets others in makes slow."""

    def __init__(self, real: Callable[..., Any]) -> None:
        self._real = real
        self._lock = threading.Lock()
        self._others = threading.Event()
        self.times = 0

    def __call__(self, *given: Any) -> Any:
        with self._lock:
            self.times += 1
        self._others.wait(0.02)
        return self._real(*given)


@pytest.fixture
def places(monkeypatch: pytest.MonkeyPatch) -> None:
    """Room for all that are sent here, so that the count alone holds them back."""
    monkeypatch.setattr(passwords, "_places", threading.BoundedSemaphore(AT_ONCE), raising=False)
    monkeypatch.setattr(passwords, "_hashing", threading.BoundedSemaphore(AT_ONCE), raising=False)


def sent_at_once(app: FastAPI, cookies: dict[str, str], address: str, form: dict[str, str], field: str) -> list[int]:
    """The form, each time with another guess in `field`, from threads that begin together."""
    gate = threading.Barrier(AT_ONCE)

    def one(number: int) -> int:
        browser = TestClient(app, headers={"origin": ORIGIN}, cookies=cookies)
        gate.wait(600)
        return browser.post(address, data={**form, field: f"{number:06d}"}, follow_redirects=False).status_code

    with ThreadPoolExecutor(AT_ONCE) as pool:
        return list(pool.map(one, range(AT_ONCE)))


@pytest.mark.usefixtures("places")
@pytest.mark.parametrize(
    ("address", "form"),
    [
        ("/sign-in", {"sign_in_name": "ines"}),
        ("/me/password-again", {}),
        ("/me/password", {"password": NEW}),
        ("/me/second-step", {"secret": SECRET, "code": "123456"}),
        ("/me/second-step/spare-codes", {}),
        ("/me/second-step/off", {}),
    ],
)
def test_of_many_guesses_at_a_password_no_more_are_compared_than_the_limit(
    client: TestClient,
    app: FastAPI,
    monkeypatch: pytest.MonkeyPatch,
    address: str,
    form: dict[str, str],
) -> None:
    cookies = dict(client.cookies) if address != "/sign-in" else {}
    compared = Compared(passwords._hasher.verify)
    monkeypatch.setattr(passwords, "_hasher", type("Counting", (), {"verify": staticmethod(compared)})())
    answers = sent_at_once(app, cookies, address, form, "password" if address == "/sign-in" else "present")
    assert set(answers) == {422}
    assert compared.times == guesses.TRIES_BY_KNOWN == guesses.TRIES_BY_NAME


@pytest.mark.usefixtures("places")
@pytest.mark.parametrize("code", ["telephone", "spare"])
def test_of_many_guesses_at_a_code_no_more_are_compared_than_the_limit(
    stranger: TestClient,
    app: FastAPI,
    open_shop: OpenShop,
    monkeypatch: pytest.MonkeyPatch,
    code: str,
) -> None:
    with_second_step(open_shop.database, open_shop.maker, app.state.seal)
    entered = enter(open_shop)
    assert entered.awaits_code and stranger.get("/sign-in").status_code == 200
    name = "_step_of" if code == "telephone" else "_spare"
    compared = Compared(getattr(second_step, name))
    monkeypatch.setattr(second_step, name, compared)
    wrong = {"telephone": "{:06d}", "spare": "wrong{:05d}"}[code]
    gate = threading.Barrier(AT_ONCE)

    def one(number: int) -> int:
        browser = TestClient(app, headers={"origin": ORIGIN}, cookies={"flutebench": entered.token})
        gate.wait(600)
        typed = wrong.format(number)
        return browser.post("/sign-in/code", data={"code": typed}, follow_redirects=False).status_code

    with ThreadPoolExecutor(AT_ONCE) as pool:
        answers = list(pool.map(one, range(AT_ONCE)))
    assert answers.count(422) >= AT_ONCE - 1, "one of a million codes may be right by chance"
    assert compared.times == guesses.TRIES_BY_NAME


@pytest.mark.usefixtures("places")
def test_the_right_password_is_taken_among_wrong_ones_and_behind_a_screen_that_is_signed_in(
    client: TestClient, app: FastAPI
) -> None:
    """Ten wrong tries in a browser that is signed in: then not even the right password is compared there."""
    for _ in range(guesses.TRIES_BY_KNOWN - 1):
        assert client.post("/me/password-again", data={"present": "a wrong guess"}).status_code == 422
    again = client.post("/me/password-again", data={"present": PASSWORD, "then": "/me"}, follow_redirects=False)
    assert again.headers["location"] == "/me", "what is right takes nothing off the number of tries"
    assert client.post("/me/password", data={"present": "a wrong guess", "password": NEW}).status_code == 422
    refused = client.post("/me/password", data={"present": PASSWORD, "password": NEW})
    assert refused.status_code == 422 and "Too many wrong tries" in refused.text
    # Whoever sits elsewhere with the right password gets in as before.
    elsewhere = TestClient(app, headers={"origin": ORIGIN})
    assert signed_in(elsewhere, "ines").get("/me").url.path == "/me"
