"""How alembic reaches the database: from the program (the address comes with the config) or from the command line."""

from typing import Any

from alembic import context
from sqlalchemy import text
from sqlmodel import SQLModel

import webapp.models  # noqa: F401  (fills the metadata)
from migrations import ours
from webapp.db import make_engine
from webapp.settings import Settings

MONEY = 'sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql")'


def render_item(kind: str, obj: Any, autogen: Any) -> str | bool:
    """Write our own column types as the plain types that lie under them, so that old revisions need no models."""
    names = {
        "AutoString": "sa.String({0.length})",
        "UtcTime": "sa.DateTime(timezone=True)",
        "Money": MONEY,
        "Exact": "sa.String({0.length})",
    }
    if kind == "type" and type(obj).__name__ == "JSON":
        autogen.imports.add("from sqlalchemy.dialects import postgresql")
        return 'sa.JSON().with_variant(postgresql.JSONB(), "postgresql")'
    if kind == "type" and (form := names.get(type(obj).__name__)):
        return form.format(obj).replace("String(None)", "String()")
    return False


def run() -> None:
    engine = make_engine(context.config.attributes.get("url") or Settings().database)
    sqlite = engine.dialect.name == "sqlite"
    with engine.connect() as connection:
        if sqlite:
            # A batch change rebuilds its table; with foreign keys on, dropping the old one would empty its children.
            # The driver's own connection, since SQLite ignores this pragma inside a transaction.
            driver = connection.connection.driver_connection
            assert driver is not None
            driver.execute("PRAGMA foreign_keys = OFF")
        context.configure(
            connection=connection,
            target_metadata=SQLModel.metadata,
            render_as_batch=True,
            render_item=render_item,
            include_object=ours,
            transaction_per_migration=True,
        )
        with context.begin_transaction():
            context.run_migrations()
        if sqlite and (broken := connection.execute(text("PRAGMA foreign_key_check")).fetchall()):
            raise RuntimeError(f"a migration left rows that point nowhere: {broken[:5]}")
    engine.dispose()


run()
