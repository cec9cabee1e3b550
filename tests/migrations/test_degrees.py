"""What 0013 makes of a shop with rows, on both databases: its degrees, and names that are found as they are typed."""

from datetime import UTC, datetime

import pytest
import sqlalchemy as sa
from alembic import command

from webapp import db

MARCH = datetime(2026, 3, 3, 14, 20, tzinfo=UTC)


@pytest.mark.parametrize(("units", "degrees"), [("inch", "F"), ("mm", "C")])
def test_a_shop_begins_with_the_degrees_of_its_units(database_url: str, units: str, degrees: str) -> None:
    command.upgrade(db.alembic_config(database_url), "0008")
    engine = db.make_engine(database_url)
    with engine.begin() as connection:
        tables = sa.MetaData()
        tables.reflect(connection)
        shop = tables.tables["shop"]
        needed = {c.name: _something(c) for c in shop.columns if not c.nullable and c.server_default is None}
        connection.execute(sa.insert(shop).values(needed | {"id": 1, "units": units}))
        customer, search_row = tables.tables["customer"], tables.tables["search_row"]
        needed = {c.name: _something(c) for c in customer.columns if not c.nullable and c.server_default is None}
        connection.execute(sa.insert(customer).values(needed | {"id": 1, "name": "Đorđe", "sought": "đorđe d’arbois"}))
        row = {
            "kind": "customer",
            "row_id": 1,
            "at_hand": True,
            "head": "Øyvind",
            "notes": "",
            "words": "#customer øyvind",
        }
        connection.execute(sa.insert(search_row).values(row))
    command.upgrade(db.alembic_config(database_url), "0013")
    with engine.begin() as connection:
        assert connection.execute(sa.text("SELECT degrees FROM shop")).scalar_one() == degrees
        assert connection.execute(sa.text("SELECT sought FROM customer")).scalar_one() == "dorde d'arbois"
        assert connection.execute(sa.text("SELECT words FROM search_row")).scalar_one() == "#customer oyvind"
    command.downgrade(db.alembic_config(database_url), "0008")
    with engine.begin() as connection:
        assert connection.execute(sa.text("SELECT units FROM shop")).scalar_one() == units
    engine.dispose()


def _something(column: sa.Column[object]) -> object:
    return {str: "x", bool: False, datetime: MARCH}.get(column.type.python_type, 1)
