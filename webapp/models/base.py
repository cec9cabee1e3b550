"""What every table shares: naming of constraints, time in UTC, money, closed lists of words."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlalchemy import JSON, Dialect, Enum, Numeric, String, TypeDecorator
from sqlalchemy.dialects.postgresql import JSONB
from sqlalchemy.types import DateTime
from sqlmodel import SQLModel

# Set before the first table is declared, so that every constraint has a name that a migration can drop.
SQLModel.metadata.naming_convention = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcTime(TypeDecorator[datetime]):
    """A moment, stored in UTC and always handed out with its zone (SQLite itself drops the zone)."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a stored moment needs a time zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Money(TypeDecorator[Decimal]):
    """An amount with two decimals, exact on both databases (SQLite keeps it as text)."""

    impl = Numeric(14, 2)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> Any:
        if dialect.name == "sqlite":
            return dialect.type_descriptor(String(20))
        return dialect.type_descriptor(Numeric(14, 2))

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> Any:
        if value is None:
            return None
        amount = value.quantize(Decimal("0.01"))
        return str(amount) if dialect.name == "sqlite" else amount

    def process_result_value(self, value: Any, dialect: Dialect) -> Decimal | None:
        return None if value is None else Decimal(value).quantize(Decimal("0.01"))


class Exact(TypeDecorator[Decimal]):
    """A decimal number kept digit by digit, as text, on both databases: a percentage has more than two decimals."""

    impl = String(20)
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> str | None:
        return None if value is None else format(value, "f")

    def process_result_value(self, value: Any, dialect: Dialect) -> Decimal | None:
        return None if value is None else Decimal(value)


def choice(words: type[StrEnum]) -> Enum:
    """A column holding one of a closed list of words, stored as the word itself on both databases."""
    return Enum(
        words,
        values_callable=lambda members: [member.value for member in members],
        native_enum=False,
        create_constraint=False,
        length=30,
    )


def document() -> JSON:
    """A JSON column: plain JSON text on SQLite, jsonb on PostgreSQL."""
    return JSON().with_variant(JSONB(), "postgresql")


_pretended: ContextVar[datetime | None] = ContextVar("pretended", default=None)


def now() -> datetime:
    """This moment, in UTC."""
    return _pretended.get() or datetime.now(UTC)


@contextmanager
def at(moment: datetime) -> Iterator[None]:
    """Let `now` give another moment: so the demo's past is written through the shop's own rules, and tests can wait."""
    token = _pretended.set(moment)
    try:
        yield
    finally:
        _pretended.reset(token)
