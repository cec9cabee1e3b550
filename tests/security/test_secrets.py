"""No secret stands in plain in the database's file or in the log, and none is in a page's address.

Sources: OWASP ASVS 4.0.3, 2.4.1, 2.6.3, 2.7.5, 3.1.1, 6.4.1, 7.1.1, 8.3.1.
"""

import logging
import re
from pathlib import Path

import pyotp
import pytest
from fastapi.testclient import TestClient

from tests import blanks as made
from tests.shops import PASSWORD, OpenShop, signed_in
from webapp.models import now
from webapp.serving import logs

NEW = "six long cedar boards"


def found(pattern: str, text: str) -> str:
    match = re.search(pattern, text)
    assert match is not None, pattern
    return match[1]


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_no_secret_is_kept_in_plain(
    client: TestClient, open_shop: OpenShop, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    with open_shop.database.write() as session:
        made.order(session)
    secrets = {"a password": PASSWORD, "the sign-in": client.cookies["flutebench"]}
    secrets["the browser"] = client.cookies["flutebench-known"]
    secrets["an invitation"] = found(
        r"/invitation/([\w-]{43})", client.post(f"/shop/people/{open_shop.viewer.id}/invitation").text
    )
    key = client.post("/me/keys", data={"name": "labels", "scopes": "read", "days": "90"}).text
    secrets["an API key"] = found(r'class="key">(fb_[\w-]{43})<', key)
    secrets["a calendar"] = found(r"/calendar/([\w-]{43})\.ics", client.post("/me/calendar", data={}).text)
    version = found(r'name="version" value="(\d+)"', client.get("/orders/1").text)
    secrets["the page of an order"] = found(
        r"/status/([\w-]{43})", client.post("/orders/1/status-page", data={"version": version}).text
    )
    secrets["the second step"] = found(r'name="secret" value="([A-Z2-7]{32})"', client.get("/me/second-step").text)
    code = pyotp.TOTP(secrets["the second step"]).at(now())
    asked = {"present": PASSWORD, "secret": secrets["the second step"], "code": code}
    spare = re.findall(r"<code>([a-z0-9]{5}-[a-z0-9]{5})</code>", client.post("/me/second-step", data=asked).text)
    secrets |= {"a spare code": spare[0], "a spare code without its stroke": spare[1].replace("-", "")}
    # Each is used once, so that whatever is written down when they are used is written down.
    browser = client
    browser.get(f"/calendar/{secrets['a calendar']}.ics")
    browser.get(f"/status/{secrets['the page of an order']}")
    browser.get("/api/v1/orders", headers={"authorization": f"Bearer {secrets['an API key']}"})
    browser.cookies.clear()
    assert browser.post(f"/invitation/{secrets['an invitation']}", data={"password": NEW}).url.path == "/"
    secrets["a chosen password"] = NEW
    browser.cookies.clear()
    browser.post("/sign-in", data={"sign_in_name": "ines", "password": "a wrong guess of mine"})
    browser.post("/sign-in", data={"sign_in_name": "ines", "password": PASSWORD})
    assert browser.post("/sign-in/code", data={"code": spare[0]}).url.path == "/"
    secrets |= {"a wrong guess": "a wrong guess of mine", "a later sign-in": browser.cookies["flutebench"]}
    browser.get("/export/tables.zip")

    said = "\n".join(logs_of(caplog))
    assert "flutebench.door" in said and "POST /invitation/{token} 303" in said
    open_shop.database.close()
    on_disk = b"".join(path.read_bytes() for path in sorted(tmp_path.glob("migrated.db*")))
    assert b"Ines Varga" in on_disk and len(on_disk) > 100_000
    for what, secret in secrets.items():
        assert secret.encode() not in on_disk, what
        assert secret not in said, what
    # What is sealed can't be opened by the database alone: its key lies beside it, for its owner's eyes.
    assert (tmp_path / "seal.key").stat().st_mode & 0o077 == 0


def logs_of(caplog: pytest.LogCaptureFixture) -> list[str]:
    """The lines as both shapes of the log write them, with all that was handed over beside the words."""
    kept = set(vars(logging.makeLogRecord({})))
    text = logging.Formatter(logs._TEXT)
    return [
        f"{text.format(record)} { {k: v for k, v in vars(record).items() if k not in kept} }"
        for record in caplog.records
        if not record.name.startswith("httpx")  # the test's own browser
    ]


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_each_decision_at_the_door_is_in_the_log_without_a_name(
    client: TestClient, open_shop: OpenShop, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO, "flutebench")
    client.post("/sign-in", data={"sign_in_name": "tam\nforged line", "password": "x\ny"})
    client.post("/sign-in", data={"sign_in_name": "tam", "password": "a wrong guess"})
    assert signed_in(client, "tam").get("/shop/people/new").status_code == 403
    client.post("/sign-out")
    said = [record.getMessage() for record in caplog.records if record.name == "flutebench.door"]
    number = open_shop.maker.id
    assert said == [
        "wrong password or code for person unknown",
        f"wrong password or code for person {number}",
        f"person {number} signed in",
        f"person {number} may not GET /shop/people/new",
        f"person {number} signed out",
    ]
    everything = "\n".join(record.getMessage() for record in caplog.records)
    assert "forged" not in everything and "tam" not in everything.lower().replace("stamp", "")
