"""Small things at the door that the list of requirements asks for one by one.

Sources: OWASP ASVS 4.0.3, 2.8.1, 2.8.6, 3.2.2, 3.3.4, 8.3.5, 14.2.2; RFC 6238, 5.2 (one step to either side).
"""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from tests.doors import HERE, enter, with_second_step
from tests.shops import PASSWORD, OpenShop, signed_in
from webapp.models import Event, Person, at, now
from webapp.pages.frame import desk
from webapp.security.sealing import Seal
from webapp.shop.base.errors import Invalid
from webapp.shop.people import accounts, door, invitations, second_step, tokens
from webapp.shop.people.tokens import Scope, TokenAsked

ON_SQLITE = pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
MOMENT = datetime(2026, 5, 4, 9, 0, 5, tzinfo=UTC)


@ON_SQLITE
def test_an_old_code_and_a_code_to_come_are_refused(open_shop: OpenShop, tmp_path: Path) -> None:
    seal, database = Seal(tmp_path), open_shop.database
    with at(MOMENT - timedelta(seconds=30)):
        phone = with_second_step(database, open_shop.maker, seal).codes
    with at(MOMENT):
        for seconds, is_good in ((-90, False), (-60, False), (90, False), (60, False), (0, True), (30, True)):
            token = enter(open_shop).token
            code = phone.at(MOMENT + timedelta(seconds=seconds))
            if is_good:
                assert door.enter_with_code(database, seal, HERE, token, code, 30).token
            else:
                with pytest.raises(Invalid):
                    door.enter_with_code(database, seal, HERE, token, code, 30)


@ON_SQLITE
def test_a_lost_telephone_is_shut_out_at_once(open_shop: OpenShop, tmp_path: Path) -> None:
    with open_shop.database.write() as session:
        person = session.get_one(Person, open_shop.maker.id)
        inside = door.let_in(session, HERE, person, 30).token
        assert accounts.who_is(session, inside)
        second_step.take_away(session, open_shop.owner, open_shop.maker.id)
        assert accounts.who_is(session, inside) is None


@ON_SQLITE
def test_tokens_are_long_and_never_the_same(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        person, owner = session.get_one(Person, open_shop.maker.id), open_shop.owner
        made = [accounts.open_sign_in(session, person, 1) for _ in range(5)]
        made += [invitations.invite(session, owner, open_shop.maker.id) for _ in range(5)]
        made += [tokens.make(session, owner, TokenAsked(name="x", scopes=[Scope.READ]))[1] for _ in range(5)]
    made += [second_step.new_secret() for _ in range(5)]
    assert len(set(made)) == len(made)
    # 43 signs of 64 are 256 bits, 32 of 32 are 160.
    assert all(re.fullmatch(r"(fb_)?[\w-]{43}|[A-Z2-7]{32}", one) for one in made)


@ON_SQLITE
@pytest.mark.usefixtures("open_shop")
def test_ending_a_sign_in_elsewhere_asks_for_the_password(client: TestClient) -> None:
    first = dict(client.cookies)
    signed_in(client, "ines")
    client.cookies.clear()
    client.cookies.update(first)
    end = re.search(r'action="(/me/sign-ins/\w+/end)"', client.get("/me").text)
    assert end is not None
    with at(now() + desk.CHANGING + timedelta(minutes=1)):
        assert client.post(end[1]).url.path == desk.PASSWORD_AGAIN
        client.post(desk.PASSWORD_AGAIN, data={"present": PASSWORD, "then": "/me"})
        assert end[1] in client.get("/me").text, "it was not ended yet"
        client.post(end[1])
        assert end[1] not in client.get("/me").text


@ON_SQLITE
def test_taking_everything_out_is_written_down(client: TestClient, open_shop: OpenShop) -> None:
    signed_in(client, "bo")
    for ending in ("tables.zip", "everything.json"):
        assert client.get(f"/export/{ending}").status_code == 200
    with open_shop.database.write() as session:
        key = tokens.make(session, open_shop.owner, TokenAsked(name="x", scopes=[Scope.READ]))[1]
    bearer = {"authorization": f"Bearer {key}"}
    assert client.get("/api/v1/export/tables.zip", headers=bearer).status_code == 200
    with open_shop.database.read() as session:
        said = session.exec(select(Event.what, Event.by).where(Event.subject == "shop")).all()
    assert ("Took everything out as zip", open_shop.office.id) in said
    assert ("Took everything out as json", open_shop.office.id) in said
    assert ("Took everything out as zip", open_shop.owner.id) in said, "by a program"


@ON_SQLITE
@pytest.mark.usefixtures("open_shop")
def test_the_frameworks_own_pages_are_not_there(client: TestClient) -> None:
    for address in (
        "/docs",
        "/redoc",
        "/openapi.json",
        "/debug",
        "/.git/config",
        "/admin",
        "/static/",
        "/photos/",
        "/server-status",
    ):
        assert client.get(address).status_code == 404, address
