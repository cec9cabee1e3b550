"""Cuts that were written down before 0012 stay cuts: none of them was found when tuning ended."""

import sqlalchemy as sa
from alembic import command

from tests.migrations.test_what_words_decided import _something
from webapp import db


def test_a_cut_from_before_was_made_at_its_moment(database_url: str) -> None:
    config = db.alembic_config(database_url)
    command.upgrade(config, "0008")
    engine = db.make_engine(database_url)
    with engine.begin() as connection:
        tables = sa.MetaData()
        tables.reflect(connection)
        for table in ("shop", "person", "species", "pattern", "pattern_revision", "blank", "cut"):
            known = tables.tables[table]
            needed = {c.name: _something(c) for c in known.columns if not c.nullable and c.server_default is None}
            keys = {c.name: 1 for c in known.columns if c.foreign_keys and not c.nullable}
            connection.execute(sa.insert(known).values(needed | keys | {"id": 1}))
    command.upgrade(config, "0012")
    with engine.connect() as connection:
        assert connection.execute(sa.text("SELECT found FROM cut")).scalar_one() in (False, 0)
    command.downgrade(config, "0008")
    engine.dispose()
