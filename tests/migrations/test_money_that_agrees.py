"""Extras of orders that were agreed cost nothing beside their price after 0009; those of enquiries are to be priced."""

from datetime import UTC, date, datetime
from decimal import Decimal

import sqlalchemy as sa
from alembic import command

from webapp import db

AT = datetime(2026, 3, 3, tzinfo=UTC)
SOMETHING: dict[type, object] = {
    int: 1,
    float: 1.0,
    bool: False,
    datetime: AT,
    date: AT.date(),
    dict: {},
    Decimal: Decimal(0),
}


def test_rows_survive_and_agreed_extras_are_priced(database_url: str) -> None:
    config = db.alembic_config(database_url)
    command.upgrade(config, "0008")
    engine = db.make_engine(database_url)
    tables = sa.MetaData()
    tables.reflect(engine)
    with engine.begin() as connection:

        def add(table: str, **values: object) -> None:
            known = tables.tables[table]
            needed = {
                c.name: SOMETHING.get(c.type.python_type, "")
                for c in known.columns
                if not c.nullable and c.server_default is None
            }
            connection.execute(sa.insert(known).values(needed | values))

        add("shop", id=1)
        add("person", id=1)
        add("species", id=1)
        add("customer", id=1)
        # Prices were calculated with other minutes than the rest of the shop: theirs are kept.
        add("stage_rate", stage="tuning", minutes=80)
        add("stage_rate", stage="flue", minutes=0)
        for stage, minutes in (("tuning", 60), ("flue", 45)):
            add("stage_minutes", stage=stage, minutes=minutes)
        for number, (status, extras) in enumerate(
            (("enquiry", "a carved block"), ("confirmed", "a carved block"), ("handed over", "")), 1
        ):
            add("customer_order", id=number, number=number, status=status, customer_id=1, taken_on=date(2026, 3, 3))
            add("ordered_flute", id=number, order_id=number, species_id=1, extras=extras)
    engine.dispose()
    command.upgrade(config, "0009")
    engine = db.make_engine(database_url)
    with engine.connect() as connection:
        rows = connection.execute(sa.text("SELECT extras_price FROM ordered_flute ORDER BY id")).scalars().all()
        assert [None if one is None else Decimal(one) for one in rows] == [None, Decimal(0), None]
        planned = dict(connection.execute(sa.text("SELECT stage, minutes FROM stage_minutes")).all())
        assert planned == {"tuning": 80, "flue": 45}
        assert set(connection.execute(sa.text("SELECT tax_status FROM customer_order")).scalars()) == {"taxed"}
    engine.dispose()
    command.downgrade(config, "0008")
    engine = db.make_engine(database_url)
    with engine.connect() as connection:
        assert connection.execute(sa.text("SELECT count(*) FROM ordered_flute")).scalar_one() == 3
        rates = dict(connection.execute(sa.text("SELECT stage, minutes FROM stage_rate")).all())
        assert rates == {"tuning": 80, "flue": 45}
    engine.dispose()
