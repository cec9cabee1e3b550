"""Many passwords at once: only so many are hashed at a time, only so many wait, and nothing is locked meanwhile.

Sources: RFC 6585, section 4 (429 and Retry-After); RFC 9106, section 4 (what a hash takes in memory is its cost).
"""

import re
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pyotp
import pytest
from argon2 import PasswordHasher
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlalchemy import text

from tests.shops import ORIGIN, PASSWORD, OpenShop, signed_in
from webapp.models import now
from webapp.pages.frame import failures
from webapp.security import passwords
from webapp.shop.people import second_step

ON_SQLITE = pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
NEW = "six long cedar boards"
SPARE_CODE = r"\b[a-hjkmnp-z2-9]{5}-[a-hjkmnp-z2-9]{5}\b"


class Hasher:
    """The real one at its lowest cost; it tells when it begins, and counts how many are at it."""

    def __init__(self, meanwhile: Callable[[], None]) -> None:
        self._real = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
        self._meanwhile = meanwhile
        self._lock = threading.Lock()
        self._now = 0
        self.most = 0
        self.made = 0

    def hash(self, password: str) -> str:
        return str(self._watched(self._real.hash, password))

    def verify(self, stored: str, password: str) -> bool:
        return bool(self._watched(self._real.verify, stored, password))

    def check_needs_rehash(self, stored: str) -> bool:
        return self._real.check_needs_rehash(stored)

    def _watched(self, does: Callable[..., Any], *given: str) -> Any:
        with self._lock:
            self._now += 1
            self.made += 1
            self.most = max(self.most, self._now)
        try:
            self._meanwhile()
            return does(*given)
        finally:
            with self._lock:
                self._now -= 1


@pytest.fixture
def go_on() -> Iterator[threading.Event]:
    """What the hashing of the tests waits for."""
    event = threading.Event()
    yield event
    event.set()


@ON_SQLITE
@pytest.mark.usefixtures("open_shop")
def test_of_many_sign_ins_a_few_are_hashed_a_few_wait_and_the_rest_are_told_when_to_come_back(
    client: TestClient, app: FastAPI, monkeypatch: pytest.MonkeyPatch, go_on: threading.Event
) -> None:
    hasher = Hasher(lambda: None if go_on.wait(60) else pytest.fail("nobody let it go on"))
    monkeypatch.setattr(passwords, "_hasher", hasher)
    places = passwords.AT_ONCE + passwords.WAITING
    told = threading.Semaphore(0)

    def one(number: int) -> tuple[int, str | None, str]:
        # Each in a browser of its own: what one of them sends waits for no other.
        browser = TestClient(app, headers={"origin": ORIGIN}, client=(f"192.0.2.{number}", 50000))
        answer = browser.post("/sign-in", data={"sign_in_name": f"nobody {number}", "password": "a wrong guess"})
        if answer.status_code == 429:
            told.release()
        return answer.status_code, answer.headers.get("retry-after"), answer.text

    more = 6
    with ThreadPoolExecutor(places + more) as pool:
        answers = [pool.submit(one, number) for number in range(places + more)]
        for _ in range(more):
            assert told.acquire(timeout=60), "those for whom there is no place are told at once"
        assert client.get("/orders").status_code == 200, "meanwhile the shop works"
        go_on.set()
        found = [one.result() for one in answers]
    assert hasher.most <= passwords.AT_ONCE
    assert hasher.made == places
    assert sorted(status for status, _, _ in found) == [422] * places + [429] * more
    refused = [one for one in found if one[0] == 429]
    assert {after for _, after, _ in refused} == {str(passwords.RETRY_AFTER)}
    assert all("nobody " in page and "Try again in a few seconds" in page for _, _, page in refused), "its name stays"


@ON_SQLITE
def test_every_place_that_hashes_is_told_the_same(
    client: TestClient, open_shop: OpenShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    secret = pyotp.random_base32()
    invitation = re.search(r"/invitation/[\w-]{43}", client.post(f"/shop/people/{open_shop.maker.id}/invitation").text)
    assert invitation is not None
    forms: list[tuple[str, dict[str, str]]] = [
        ("/me/password", {"present": PASSWORD, "password": NEW}),
        ("/me/password-again", {"present": PASSWORD}),
        ("/me/second-step", {"present": PASSWORD, "secret": secret, "code": pyotp.TOTP(secret).at(now())}),
        ("/me/second-step/spare-codes", {"present": PASSWORD}),
        ("/me/second-step/off", {"present": PASSWORD}),
        ("/shop/people/new", {"name": "Ro", "sign_in_name": "ro", "role": "maker"}),
        (f"/shop/people/{open_shop.maker.id}", {"name": "Tam", "role": "maker", "active": "on", "password": NEW}),
        (invitation[0], {"password": NEW}),
        ("/sign-in", {"sign_in_name": "ines", "password": PASSWORD}),
    ]
    monkeypatch.setattr(passwords, "_places", threading.BoundedSemaphore(1))
    with passwords.place():
        for address, form in forms:
            answer = client.post(address, data=form, follow_redirects=False)
            assert (answer.status_code, answer.headers.get("retry-after")) == (429, "5"), address
    assert client.post("/me/password-again", data={"present": PASSWORD}, follow_redirects=False).status_code == 303
    assert "429" in client.get("/api").text, "programs read of it too"


@ON_SQLITE
def test_nothing_is_locked_while_a_password_or_a_spare_code_is_hashed(
    client: TestClient, open_shop: OpenShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever else wants to write meanwhile can. SQLite has one lock for all; it answers at once here."""
    waited = []

    def somebody_writes() -> None:
        with open_shop.database.engine.execution_options(writes=True).connect() as connection:
            connection.connection.dbapi_connection.execute("PRAGMA busy_timeout = 0")  # type: ignore[union-attr]
            connection.execute(text("UPDATE shop SET version = version"))
            connection.rollback()
        waited.append(True)

    hasher = Hasher(somebody_writes)
    monkeypatch.setattr(passwords, "_hasher", hasher)
    real = passwords.slowly
    monkeypatch.setattr(passwords, "slowly", lambda work: (somebody_writes(), real(work))[1])
    monkeypatch.setattr(second_step, "slowly", lambda work: (somebody_writes(), real(work))[1])

    def sent(address: str, **form: str) -> str:
        before = len(waited)
        answer = client.post(address, data={"once": f"a key for {address}"[:40], **form})
        assert answer.status_code == 200, (address, answer.text[:2000])
        assert len(waited) > before, f"{address} hashed nothing"
        return answer.text

    secret = pyotp.random_base32()
    phone = pyotp.TOTP(secret)
    page = sent("/me/second-step", present=PASSWORD, secret=secret, code=phone.at(now()))
    spare = re.findall(SPARE_CODE, page)
    assert len(spare) == second_step.SPARE
    spare = re.findall(SPARE_CODE, sent("/me/second-step/spare-codes", present=PASSWORD))
    sent("/me/password-again", present=PASSWORD)
    sent("/me/password", present=PASSWORD, password=NEW)
    sent("/shop/people/new", name="Ro", sign_in_name="ro", role="maker")
    invited = client.post(f"/shop/people/{open_shop.maker.id}/invitation").text
    invitation = re.search(r"/invitation/[\w-]{43}", invited)
    assert invitation is not None
    sent(f"/shop/people/{open_shop.viewer.id}", name="Kit", role="viewer", active="on", password=NEW)
    client.cookies.clear()
    sent("/sign-in", sign_in_name="ines", password=NEW)
    sent("/sign-in/code", code=spare[0])
    sent("/me/second-step/off", present=NEW)
    client.cookies.clear()
    sent(invitation[0], password=NEW)
    signed_in(client, "bo")


@ON_SQLITE
@pytest.mark.usefixtures("open_shop")
def test_a_form_sent_twice_proves_its_password_once(client: TestClient) -> None:
    """The second time the old password is no longer right: what counts is that it was done already."""
    form = {"present": PASSWORD, "password": NEW, "once": "a key for this test alone"}
    first = client.post("/me/password", data=form, follow_redirects=False)
    again = client.post("/me/password", data=form, follow_redirects=False)
    assert (first.status_code, again.status_code) == (303, 303)
    assert again.headers["location"] == first.headers["location"]


def test_a_thread_that_has_a_place_needs_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(passwords, "_hasher", PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
    monkeypatch.setattr(passwords, "_places", threading.BoundedSemaphore(1))
    with passwords.place():
        assert passwords.verify_password(PASSWORD, passwords.hash_password(PASSWORD))
        with ThreadPoolExecutor(1) as other, pytest.raises(passwords.Crowded):
            other.submit(passwords.hash_password, PASSWORD).result()
    assert passwords.hash_password(PASSWORD)
    assert failures.crowded() == {"retry-after": str(passwords.RETRY_AFTER)}
