"""Whatever a browser sends to any address, the answer is a page that says so, never a fault of ours."""

import re

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests import blanks as made
from tests.shops import OpenShop

ODD = ["0", "-1", "9999999999999999999999", "x", "\u202e\u0301\U0001f9ff", "a'b\"c;--", "9" * 5000]
ODD_TEXTS = ["", " ", "-1", "1e999", "nan", "0" * 400, "<b>&", "\u0000", "\ud7ff\ufeff", "{{7*7}}", "2026-13-45", "5/0"]
# What goes past the check of a form goes on to the database, and there the two differ; nothing else does.
ODD_TO_STORE = ["", "-1", "nan", "0" * 400, "\u0000", "\ud7ff\ufeff"]
FIELDS = re.compile(r'name="([^"]+)"')


def addresses(app: FastAPI, method: str) -> list[str]:
    return sorted(path for path, ways in app.openapi()["paths"].items() if method in ways)


def filled(path: str, with_: str) -> str:
    return re.sub(r"{[^}]+}", lambda _: with_, path)


def named(path: str) -> str:
    return filled(path.replace("{serial}", "0001"), "1")


def test_no_address_breaks(client: TestClient, app: FastAPI) -> None:
    for path in addresses(app, "get"):
        for odd in ODD:
            answer = client.get(filled(path, odd), params={"q": odd, "page": odd, "show": odd, "key": odd})
            assert answer.status_code < 500, (path, odd)


@pytest.fixture
def at_work(open_shop: OpenShop) -> None:
    """Order 1 with its blank 0001 at its first step, so that the addresses below name something."""
    with open_shop.database.write() as session:
        flute_id = made.order(session)
        made.opened(session, open_shop.maker, flute_id=flute_id)


@pytest.mark.usefixtures("at_work")
def test_no_empty_or_odd_form_breaks(client: TestClient, app: FastAPI, migrated_database_url: str) -> None:
    texts = ODD_TEXTS if migrated_database_url.startswith("sqlite") else ODD_TO_STORE
    names: set[str] = set()
    for path in addresses(app, "get"):
        if not path.endswith(".pdf"):
            names |= set(FIELDS.findall(client.get(named(path)).text))
    names.discard("once")
    assert len(names) > 40
    for path in addresses(app, "post"):
        for text in texts if path != "/sign-out" else []:
            answer = client.post(named(path), data=dict.fromkeys(names, text), follow_redirects=False)
            assert answer.status_code < 500, (path, text, answer.text[-600:])


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_a_body_that_is_no_form_breaks_nothing(client: TestClient, app: FastAPI) -> None:
    for path in addresses(app, "post"):
        for kind in ("application/json", "multipart/form-data", "multipart/form-data; boundary=x", "text/plain"):
            answer = client.post(named(path), content=b"\xff\x00{[", headers={"content-type": kind})
            assert answer.status_code < 500, (path, kind)
