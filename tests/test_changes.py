"""Changes are counted once for each transaction that changes something, and never before it is done."""

from sqlmodel import col, delete, select, update

from tests.shops import OpenShop
from webapp import changes
from webapp.models import Drill, SignIn, Species, now


def test_each_change_counts_once_and_what_is_undone_never(open_shop: OpenShop) -> None:
    database = open_shop.database

    def count() -> int:
        with database.read() as session:
            return changes.count(session)

    before = count()
    with database.write() as session:
        session.add_all([Drill(diameter=3.21, label="one"), Drill(diameter=4.32, label="two")])
        session.flush()
        session.exec(select(Species)).all()
        assert count() == before
        session.commit()
    assert count() == before + 1
    with database.write() as session:
        session.add(Drill(diameter=5.43, label="three"))
        session.flush()
        session.rollback()
        session.commit()
    with database.write() as session:
        session.add(SignIn(token_digest="x", person_id=open_shop.owner.id, expires_at=now()))
        session.commit()
    assert count() == before + 1
    with database.write() as session:
        session.exec(update(Drill).where(col(Drill.label) == "one").values(label="first"))
        session.exec(delete(SignIn).where(col(SignIn.token_digest) == "x"))
        session.commit()
    with database.write() as session:
        session.exec(delete(SignIn))
        session.commit()
    assert count() == before + 2


def test_a_later_number_committed_earlier_hides_no_change(open_shop: OpenShop) -> None:
    """Where two write at once: whoever sees the count of the second sees its change, however the ids fell."""
    if open_shop.database.engine.dialect.name == "sqlite":
        return  # one writer at a time
    with open_shop.database.write() as first, open_shop.database.write() as second:
        first.add(Drill(diameter=3.21, label="first"))
        first.flush()
        second.add(Drill(diameter=4.32, label="second"))
        second.commit()
        with open_shop.database.read() as session:
            seen = changes.count(session)
        first.commit()
        with open_shop.database.read() as session:
            assert changes.count(session) == seen + 1
