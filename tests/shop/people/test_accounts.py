"""Accounts: the first run, passwords, sign-ins."""

from datetime import timedelta

import pytest
from sqlmodel import Session, select

from tests.shops import PASSWORD, OpenShop
from webapp.db import Database
from webapp.models import Adhesive, Drill, Person, Role, Shop, SignIn, Species, now
from webapp.shop.base.errors import Invalid, NotAllowed, NotFound
from webapp.shop.people import accounts, door
from webapp.shop.people.guesses import Visitor
from webapp.shop.settings.setting_up import FirstRun, set_up

VISITOR = Visitor("192.0.2.7")
ASKED = FirstRun(shop_name="Alder Lane", owner_name="Ines", sign_in_name="Ines", password=PASSWORD)


def test_the_first_run_makes_a_shop_with_an_owner_and_something_on_its_shelves(shop_database: Database) -> None:
    with shop_database.write() as session:
        assert not accounts.is_set_up(session)
        set_up(session, ASKED)
    with shop_database.read() as session:
        assert session.get(Shop, 1).name == "Alder Lane"
        owner = session.exec(select(Person)).one()
        assert (owner.sign_in_name, owner.role) == ("ines", Role.OWNER)
        assert PASSWORD not in owner.password_hash
        assert owner.password_hash.startswith("$argon2id$")
        for table in (Species, Adhesive, Drill):
            assert session.exec(select(table)).first() is not None


def test_there_is_only_one_first_run(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session, pytest.raises(NotAllowed):
        set_up(session, ASKED.model_copy(update={"sign_in_name": "eve"}))
    with open_shop.database.read() as session:
        assert session.exec(select(Person).where(Person.sign_in_name == "eve")).first() is None


@pytest.mark.parametrize("password", ["", "short", "aaaaaaaaaaaaaa", "password1234", "qwertyuiop12", "x" * 300])
def test_a_weak_password_is_refused(open_shop: OpenShop, password: str) -> None:
    with open_shop.database.write() as session, pytest.raises(Invalid) as refused:
        accounts.add_person(session, open_shop.owner, "Eve", "eve", password, Role.MAKER)
    assert list(refused.value.errors) == ["password"]


def test_a_name_is_taken_whatever_its_capitals(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session, pytest.raises(Invalid) as refused:
        accounts.add_person(session, open_shop.owner, "Eve", " TAM ", PASSWORD, Role.MAKER)
    assert list(refused.value.errors) == ["sign_in_name"]


def test_only_the_owner_gives_accounts(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session, pytest.raises(NotAllowed):
        accounts.add_person(session, open_shop.maker, "Eve", "eve", PASSWORD, Role.OWNER)


def _opened(session: Session, shop: OpenShop) -> str:
    return accounts.open_sign_in(session, session.get_one(Person, shop.maker.id), days=3)


def test_a_sign_in_is_known_by_its_token_and_only_its_digest_is_kept(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        token = _opened(session, open_shop)
        assert token is not None
    with open_shop.database.read() as session:
        kept = session.exec(select(SignIn)).one()
        assert kept.token_digest != token
        found = accounts.who_is(session, token)
        assert found is not None
        assert found[0].name == "Tam"
        assert accounts.who_is(session, kept.token_digest) is None


def test_a_sign_in_ends_by_time_by_signing_out_and_with_the_account(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        tokens = [_opened(session, open_shop) for _ in range(3)]
        kept = session.get(SignIn, accounts.digest(tokens[0]))
        kept.expires_at = now() - timedelta(seconds=1)
        session.commit()
        accounts.sign_out(session, tokens[1])
        assert [accounts.who_is(session, token) is not None for token in tokens] == [False, False, True]
        session.get(Person, open_shop.maker.id).active = False
        session.commit()
        assert accounts.who_is(session, tokens[2]) is None


def test_a_new_password_ends_every_sign_in(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        token = _opened(session, open_shop)
        accounts.set_password(session, "tam", "quite another one")
        assert accounts.who_is(session, token) is None
        with pytest.raises(NotFound):
            accounts.set_password(session, "nobody", "quite another one")
    assert door.check(open_shop.database, VISITOR, "tam", PASSWORD) is None
    assert door.check(open_shop.database, VISITOR, "tam", "quite another one")


def test_being_seen_prolongs_a_sign_in(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        token = _opened(session, open_shop)
        kept = session.get(SignIn, accounts.digest(token))
        kept.seen_at = now() - timedelta(hours=1)
        before = kept.expires_at
        session.commit()
        assert accounts.who_is(session, token)[1]
        accounts.keep_alive(session, token, days=9)
        assert not accounts.who_is(session, token)[1]
        assert session.get(SignIn, accounts.digest(token)).expires_at > before
