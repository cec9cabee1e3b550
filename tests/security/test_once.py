"""What is good once is good once, also when it is used twice at the very same time. On both databases.

Sources: OWASP ASVS 4.0.3, 1.11.2, 2.6.1, 2.8.4, 11.1.6 (time of check and time of use).
"""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from sqlmodel import Session, func, select

from tests.doors import HERE, enter, with_second_step
from tests.shops import PASSWORD, OpenShop
from webapp.db import Database
from webapp.models import Person, Shop, SignIn, now
from webapp.security.sealing import Seal
from webapp.shop.base.errors import ShopError
from webapp.shop.people import door, invitations, second_step
from webapp.shop.people.invitations import ChosenPassword
from webapp.shop.settings.setting_up import FirstRun, set_up

AT_ONCE = 4


def at_once(database: Database, does: Callable[[Session, int], Any]) -> list[Any]:
    """What `does` gives in several threads that begin together; None where it was refused."""
    gate = threading.Barrier(AT_ONCE)

    def one(number: int) -> Any:
        gate.wait(20)
        try:
            with database.write() as session:
                return does(session, number)
        except Exception as error:
            # What a page would answer with 404, 409 or 422; anything else is a fault.
            assert isinstance(error, ShopError) or type(error).__name__ == "IntegrityError", error
            return None

    with ThreadPoolExecutor(AT_ONCE) as pool:
        return list(pool.map(one, range(AT_ONCE)))


def test_of_many_at_once_one_gets_in(open_shop: OpenShop, tmp_path: Path) -> None:
    database, maker, seal = open_shop.database, open_shop.maker, Seal(tmp_path)
    with database.write() as session:
        token = invitations.invite(session, open_shop.owner, maker.id)
    chosen = [f"long cedar boards number {number}" for number in range(AT_ONCE)]
    with database.read() as session:
        hashed = [invitations.choose(session, token, ChosenPassword(password=one)) for one in chosen]
    took = at_once(database, lambda s, n: invitations.accept(s, token, hashed[n]).name)
    assert sorted(took, key=str) == [None] * (AT_ONCE - 1) + ["Tam"]
    password = chosen[took.index("Tam")]
    assert door.check(database, HERE, "tam", password)

    phone = with_second_step(database, maker, seal, password)
    with database.write() as session:
        session.get_one(Person, maker.id).code_used = 0
        session.commit()
    for typed in (phone.codes.at(now()), phone.spare[0]):
        waiting = [enter(open_shop, password=password).token for _ in range(AT_ONCE)]
        in_ = at_once(
            database, lambda s, n, t=typed, w=waiting: door.enter_with_code(database, seal, HERE, w[n], t, 30)
        )
        assert sum(one is not None for one in in_) == 1, typed
    with database.read() as session:
        full = select(func.count()).select_from(SignIn).where(SignIn.person_id == maker.id, ~SignIn.awaits_code)
        assert session.exec(full).one() == 2
        assert second_step.spare_codes_left(session, maker.id) == second_step.SPARE - 1


def test_of_many_first_runs_one_opens_the_shop(shop_database: Database) -> None:
    def open_it(session: Session, number: int) -> str:
        asked = FirstRun(shop_name=f"Shop {number}", owner_name="Ines", sign_in_name=f"ines{number}", password=PASSWORD)
        return set_up(session, asked).name

    assert sum(one is not None for one in at_once(shop_database, open_it)) == 1
    with shop_database.read() as session:
        assert session.exec(select(func.count()).select_from(Shop)).one() == 1
        assert session.exec(select(func.count()).select_from(Person)).one() == 1
