"""Getting in, for tests: signed in by password, with a second step, or guessing wrongly."""

from dataclasses import dataclass

import pyotp

from tests.shops import PASSWORD, OpenShop
from webapp.db import Database
from webapp.models import now
from webapp.security.sealing import Seal
from webapp.shop.people import door, second_step
from webapp.shop.people.accounts import Who
from webapp.shop.people.door import Entered
from webapp.shop.people.guesses import Visitor
from webapp.shop.people.second_step import CodeAsked

HERE = Visitor("192.0.2.7", "Firefox on Linux")


def enter(shop: OpenShop, visitor: Visitor = HERE, name: str = "tam", password: str = PASSWORD) -> Entered:
    """In with the right password, or as far as the second step."""
    person = door.check(shop.database, visitor, name, password)
    assert person is not None
    with shop.database.write() as session:
        return door.let_in(session, visitor, person, 30)


def guess(database: Database, visitor: Visitor, name: str, times: int) -> None:
    """As many wrong passwords."""
    for _ in range(times):
        assert door.check(database, visitor, name, "a wrong guess") is None


@dataclass(frozen=True)
class Phone:
    """A second step that was set up: the telephone, and the codes on paper."""

    codes: pyotp.TOTP
    spare: list[str]


def with_second_step(database: Database, who: Who, seal: Seal, password: str = PASSWORD) -> Phone:
    """Set up a second step at this moment."""
    secret = second_step.new_secret()
    codes = pyotp.TOTP(secret)
    asked = CodeAsked(present=password, secret=secret, code=codes.at(now()))
    proof, spare = door.prove(database, HERE, who, password), second_step.new_spare_codes()
    with database.write() as session:
        second_step.switch_on(session, who, seal, asked, proof, spare)
    return Phone(codes, spare.codes)
