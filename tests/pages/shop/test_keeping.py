"""Backups, the certificate for tablets and the diary, as the owner sees them; others see nothing of them."""

import re
import time
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests import blanks as made
from tests.shops import OpenShop, signed_in
from webapp.keeping import certificates
from webapp.keeping.backups.archive import read_contents


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_the_owner_makes_a_backup_and_fetches_it(client: TestClient, tmp_path: Path) -> None:
    assert "No backup yet" in client.get("/shop/backups").text
    client.post("/shop/backups")
    for _ in range(200):
        if found := re.findall(
            r'href="(/shop/backups/flutebench-[\d-]+by-hand\.tar)"', client.get("/shop/backups").text
        ):
            break
        time.sleep(0.05)
    [address] = found
    (tmp_path / "fetched.tar").write_bytes(client.get(address).content)
    assert read_contents(tmp_path / "fetched.tar").rows["person"] == 4
    for odd in ("/shop/backups/..%2Fshop.sqlite3", "/shop/backups/flutebench-20250101-000000.tar", "/shop/backups/%00"):
        assert client.get(odd).status_code == 404
    signed_in(client, "tam")
    assert [client.get(path).status_code for path in ("/shop/backups", address)] == [403, 403]
    assert client.post("/shop/backups").status_code == 403


def test_anyone_fetches_the_certificate_and_never_a_key(
    stranger: TestClient, open_shop: OpenShop, app: FastAPI
) -> None:
    assert "no certificate" in stranger.get("/trust").text
    assert stranger.get("/trust/authority.crt").status_code == 404
    files = certificates.make(app.state.settings.data, ["bench.local", "fe80::1"])
    page = stranger.get("/trust").text
    assert certificates.fingerprint(app.state.settings.data) in page
    assert "https://[fe80::1]:8000/" in page
    fetched = stranger.get("/trust/authority.crt").content
    assert fetched == files.authority.read_bytes()
    assert b"PRIVATE" not in fetched


def test_the_owner_reads_who_did_what(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        made.opened(session, open_shop.maker, flute_id=made.order(session))
    page = client.get("/shop/diary").text
    assert "Tam" in page
    alone = client.get("/shop/diary", params={"person": str(open_shop.maker.id), "subject": "blank"}).text
    assert "Tam" in alone
    assert "Nothing was written" in client.get("/shop/diary", params={"day": "2001-01-01"}).text
    assert client.get("/shop/diary", params={"day": "someday"}).status_code == 422
    for name in ("tam", "bo", "kit"):
        assert signed_in(client, name).get("/shop/diary").status_code == 403
