"""Two owners who put each other away, or step down, at the same moment: one stays."""

from threading import Barrier, Thread

import pytest
from sqlalchemy.exc import OperationalError
from sqlmodel import col, select

from tests.shops import PASSWORD, OpenShop, who
from webapp.models import Person, Role
from webapp.shop.base.errors import Invalid
from webapp.shop.people import accounts, rules
from webapp.shop.people.accounts import Who
from webapp.shop.people.rules import PersonAsked


@pytest.mark.parametrize("each_other", [True, False])
def test_one_owner_stays(open_shop: OpenShop, each_other: bool) -> None:
    database = open_shop.database
    with database.write() as session:
        other = who(accounts.add_person(session, open_shop.owner, "Ro", "ro", PASSWORD, Role.OWNER))
    pairs = [(open_shop.owner, other), (other, open_shop.owner)]
    begin, failed = Barrier(2), []

    def put_away(by: Who, person: Who) -> None:
        asked = PersonAsked(name=person.name, role=Role.OWNER, active=False)
        begin.wait()
        try:
            with database.write() as session:
                rules.change(session, by, person.id, asked, None)
        except (Invalid, OperationalError) as error:  # PostgreSQL may end one of two that wait for each other
            failed.append(error)

    threads = [Thread(target=put_away, args=(by, on if each_other else by)) for by, on in pairs]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with database.read() as session:
        owners = session.exec(select(Person.id).where(Person.role == Role.OWNER, col(Person.active))).all()
    assert (len(owners), len(failed)) == (1, 1)
