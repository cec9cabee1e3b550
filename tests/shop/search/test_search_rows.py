"""What search looks through keeps step with what it is about, in the same transaction, on both databases."""

from alembic import command
from sqlmodel import Session, select

from tests import blanks as made
from tests.shops import OpenShop
from webapp.db import alembic_config
from webapp.models import Customer, Pattern, SearchRow, Species
from webapp.models.search.searching import key_words, words
from webapp.shop import search
from webapp.shop.orders import customers
from webapp.shop.orders.customers import CustomerAsked


def serials(session: Session, typed: str) -> list[str]:
    return [one.blank.serial for one in search.find(session, typed).blanks]


def test_rows_follow_what_is_written_renamed_and_taken_back(open_shop: OpenShop) -> None:
    database, maker = open_shop.database, open_shop.maker
    with database.write() as session:
        [blank] = made.opened(session, maker, flute_id=made.order(session))
        serial = blank.serial
        made.passed(session, maker, blank, "halves", note="Grain lifts near the Fußloch")
        session.commit()
        assert serials(session, "rosa walnut") == [serial]
        found = search.find(session, "fussloch")
        assert [one.blank.serial for one in found.blanks] == [serial]
        assert found.note("blank", blank.id) == "Grain lifts near the Fußloch"
        assert serials(session, "walnut grain fuss order 1 a4") == [serial]
        known = session.exec(select(Customer)).one()
        assert known.id is not None
        customers.change(session, maker, known.id, CustomerAsked(name="Zoë Müller", version=1))
        session.commit()
        assert serials(session, "zoe mul") == [serial]
        assert serials(session, "rosa") == []
        assert [one.order.number for one in search.find(session, "müller").orders] == [1]
        for table, name in ((Species, "black walnut"), (Pattern, "Pattern in A4")):
            row = session.exec(select(table).where(table.name == name)).one()
            row.name = f"{name} renamed {table.__name__}"
            session.add(row)
        session.commit()
        assert serials(session, "renamed species pattern") == [serial]
        # What comes to nothing is not found, and leaves nothing to be found.
        session.add(Customer(name="Never Written"))
        session.flush()
        session.rollback()
        session.add(Customer(name="Written After All"))
        session.commit()
        assert not search.find(session, "never").customers
        assert len(search.find(session, "written").customers) == 1
        session.delete(session.exec(select(Customer).where(Customer.name == "Written After All")).one())
        session.commit()
        assert not search.find(session, "written").customers
        kept = {(row.kind, row.row_id, row.words) for row in session.exec(select(SearchRow))}
    # A shop that is brought up to date from before there was such a search finds all it had.
    database.close()
    config = alembic_config(database.url)
    command.downgrade(config, "0002")
    command.upgrade(config, "head")
    with database.read() as session:
        assert {(row.kind, row.row_id, row.words) for row in session.exec(select(SearchRow))} == kept
        assert serials(session, "zoe mul") == [serial]


def test_words_are_folded_and_keys_come_in_both_spellings() -> None:
    """Letters and their accents: Unicode Standard Annex 15 (compatibility decomposition); case folding: ß is ss."""
    assert words("Zoë MÜLLER-Straße, F♯4; TQ-0141!") == ["zoe", "muller", "strasse", "f#4", "tq", "0141"]
    assert words("\x00 %_'\"") == []
    assert key_words("F#4") == ["f#4", "gb4"]
    assert key_words("Gb4") == ["gb4", "f#4"]
    assert key_words("A4") == ["a4"]


def test_letters_that_a_keyboard_lacks_are_found_as_they_are_typed(open_shop: OpenShop) -> None:
    """NFKD takes none of these letters apart (Unicode Standard Annex 15)."""
    names = {
        "oyvind": "Øyvind Lund",
        "dorde": "Đorđe Ilić",
        "d'arbois": "Mme d’Arbois",
        "lukasz": "Łukasz",
        "aesop": "Æsop",
    }
    with open_shop.database.write() as session:
        for name in names.values():
            session.add(Customer(name=name))
        session.commit()
        for typed, name in names.items():
            assert [one.customer.name for one in search.find(session, typed).customers] == [name], typed
            assert [one.customer.name for one in customers.like(session, typed)] == [name], typed
            assert [one.customer.name for one in search.find(session, name).customers] == [name], name
