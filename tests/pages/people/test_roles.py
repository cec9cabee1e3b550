"""The table of who may do what holds at every address, for every role."""

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests.pages.frame.test_nothing_breaks import addresses, named
from tests.shops import OpenShop, signed_in
from webapp.models import Role
from webapp.shop.people import roles

# Open to people who are not signed in: there is no role to ask for.
OPEN = {"/first-run", "/sign-in", "/sign-in/code", "/invitation/{token}", "/password-strength"}
PEOPLE = {Role.OWNER: "ines", Role.MAKER: "tam", Role.OFFICE: "bo", Role.VIEWER: "kit"}


def test_every_address_that_changes_something_stands_in_the_table(app: FastAPI) -> None:
    lost = [
        path
        for path in addresses(app, "post")
        if path not in OPEN and not path.startswith("/api/") and roles.deed_of(path) is None
    ]
    assert lost == []


def test_every_deed_has_an_address(app: FastAPI) -> None:
    paths = {*addresses(app, "post"), *addresses(app, "get")}
    used = {roles.deed_of(path) for path in paths}
    assert [deed.words for deed in roles.DEEDS if deed not in used] == []


@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
@pytest.mark.usefixtures("open_shop")
def test_the_table_holds(stranger: TestClient, app: FastAPI, role: Role) -> None:
    """An empty form to every address: refused by role exactly where the table says so."""
    signed_in(stranger, PEOPLE[role])
    for path in addresses(app, "post"):
        if path in OPEN or path == "/sign-out" or path.startswith(("/api/", "/me/sign-out")):
            continue
        refused = stranger.post(named(path), follow_redirects=False).status_code == 403
        assert refused is not roles.may(role, "POST", path), (role, path)
    for path in addresses(app, "get"):
        if not roles.may(role, "GET", path):
            assert stranger.get(named(path), follow_redirects=False).status_code == 403, (role, path)


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
@pytest.mark.usefixtures("open_shop")
def test_nobody_who_is_not_signed_in_sees_anything(stranger: TestClient, app: FastAPI) -> None:
    told = {"/first-run", "/sign-in", "/sign-in/code", "/invitation/{token}", "/trust", "/trust/authority.crt"}
    secret = {"/status/{secret}", "/calendar/{secret}.ics", "/flute/{secret}"}
    open_to_all = ("/static/", "/library/", "/fonts/", "/api", "/guide")
    told |= {path for path in addresses(app, "get") if path.startswith(open_to_all)}
    for path in addresses(app, "get"):
        answer = stranger.get(named(path), follow_redirects=False)
        if path in secret:
            assert answer.status_code == 404, path
        elif path not in told:
            assert answer.status_code == 303, path
            assert answer.headers["location"].startswith("/sign-in"), path
    for path in addresses(app, "post"):
        if path not in OPEN and not path.startswith("/api/"):
            answer = stranger.post(named(path), follow_redirects=False)
            assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in"), path


def test_everyone_reads_the_table(client: TestClient, open_shop: OpenShop) -> None:
    page = signed_in(client, "kit").get("/shop/roles").text
    assert all(deed.words in page.replace("&#39;", "'") for deed in roles.DEEDS)
