"""Rows by their number, so that a number that names nothing is always the same plain answer."""

from typing import TypeVar

from sqlmodel import Session, SQLModel, col, select
from sqlmodel.sql.expression import SelectOfScalar

from webapp.shop.base.errors import NotFound

Row = TypeVar("Row", bound=SQLModel)

# What both databases hold in an integer column; larger numbers in an address name nothing.
LARGEST_ID = 2**31 - 1


def as_id(text: object) -> int | None:
    """The row's number that a text names, or None where it names none, however long or odd it is."""
    plain = str(text)
    if not (plain.isascii() and plain.isdigit() and len(plain) <= 10):
        return None
    return int(plain) if 0 < int(plain) <= LARGEST_ID else None


def held(asked: SelectOfScalar[Row]) -> SelectOfScalar[Row]:
    """The same question; nobody else may change its rows until the transaction ends.

    What another has changed while this waited for the rows counts, not what was read before.
    """
    return asked.with_for_update().execution_options(populate_existing=True)


def find(session: Session, table: type[Row], row_id: int, words: str, lock: bool = False) -> Row:
    """The row with this number; with `lock`, nobody else may change it until the transaction ends.

    Raises NotFound with `words`, such as "lot of stock".
    """
    row = None
    if 0 < row_id <= LARGEST_ID:
        if lock:
            statement = select(table).where(col(table.id) == row_id)  # type: ignore[attr-defined]
            row = session.exec(held(statement)).first()
        else:
            row = session.get(table, row_id)
    if row is None:
        raise NotFound(f"There is no {words} {row_id}.")
    return row
