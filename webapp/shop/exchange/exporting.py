"""Everything out: each table of the shop as CSV in one zip, or all of it as JSON, a piece at a time.

What only this installation needs stays here: passwords, sign-ins, keys for programs and the rows that search looks
through. A cell that a spreadsheet would take for a formula gets an apostrophe before it (OWASP, CSV injection).
"""

import io
import json
import zipfile
from base64 import b64encode
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from typing import Any, Final

import sqlalchemy as sa
from sqlmodel import Session, SQLModel

from webapp.models import Role, Shop
from webapp.shop.base.finding import find
from webapp.shop.base.spreadsheets import harmless, written
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who

HELD_BACK: Final = {
    "api_answered",
    "api_token",
    "calendar_feed",
    "change_count",
    "chore",
    "failed_try",
    "forecast",
    "import_draft",
    "invitation",
    "known_browser",
    "print_run",
    "printed_file",
    "search_row",
    "sign_in",
    "spare_code",
    "submission",
}
SECRET: Final = {("person", "password_hash"), ("person", "code_secret"), ("person", "code_used")}
_SECRET_ENDINGS = ("digest", "secret", "token", "password_hash")
_AT_ONCE: Final = 1000


def tables() -> list[sa.Table]:
    """The tables that go out, those that others name first."""
    return [table for table in SQLModel.metadata.sorted_tables if table.name not in HELD_BACK]


def may(who: Who) -> None:
    """Raise NotAllowed for someone who may not take everything with them."""
    who.must(Role.OWNER, Role.OFFICE)


def write_down(session: Session, who: Who, ending: str) -> None:
    """That someone took everything with them: in the diary, before the first piece goes out."""
    may(who)
    diary.write(session, who, "shop", 1, f"Took everything out as {ending}")
    session.flush()


def columns(table: sa.Table) -> list[sa.Column[Any]]:
    return [
        column
        for column in table.columns
        if (table.name, column.name) not in SECRET
        and not column.name.endswith(_SECRET_ENDINGS)
        and not isinstance(column.type, sa.LargeBinary)
    ]


def as_zip(session: Session, who: Who) -> Iterator[bytes]:
    """A zip of one CSV file for each table, as it is made, its numbers as the shop's country writes them.

    Raises NotAllowed.
    """
    may(who)
    return _zipped(session, find(session, Shop, 1, "shop").decimal_comma)


def as_json(session: Session, who: Who) -> Iterator[bytes]:
    """One JSON document: an object with a list of rows for each table, as it is made. Raises NotAllowed."""
    may(who)
    return _document(session)


def plain(value: Any) -> Any:
    """A value as JSON has it: moments in UTC with their zone, money as text, digit by digit."""
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, bytes):
        return b64encode(value).decode()
    return value.value if isinstance(value, Enum) else value


def cell(value: Any) -> Any:
    """A value as a cell that no spreadsheet will run; a number stays one."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict | list):
        return json.dumps(value, ensure_ascii=False, sort_keys=True)
    return value if isinstance(value, int | float | Decimal) else harmless(str(plain(value)))


class _Pipe(io.RawIOBase):
    """What is written to it can be taken out again: a file that is never whole."""

    def __init__(self) -> None:
        super().__init__()
        self._parts: list[bytes] = []
        self._at = 0

    def writable(self) -> bool:
        return True

    def write(self, data: Any) -> int:
        part = bytes(data)
        self._parts.append(part)
        self._at += len(part)
        return len(part)

    def tell(self) -> int:
        return self._at

    def taken(self) -> bytes:
        out = b"".join(self._parts)
        self._parts.clear()
        return out


def _zipped(session: Session, comma: bool) -> Iterator[bytes]:
    pipe = _Pipe()
    with zipfile.ZipFile(pipe, "w", zipfile.ZIP_DEFLATED) as archive:
        for table in tables():
            shown = columns(table)
            with archive.open(zipfile.ZipInfo(f"{table.name}.csv", (1980, 1, 1, 0, 0, 0)), "w") as file:
                # The mark lets spreadsheets see that it is UTF-8.
                file.write("\ufeff".encode() + written([[column.name for column in shown]], comma).encode())
                for rows in _rows(session, table, shown):
                    file.write(written([[cell(value) for value in row] for row in rows], comma).encode())
                    yield pipe.taken()
            yield pipe.taken()
    yield pipe.taken()


def _document(session: Session) -> Iterator[bytes]:
    yield b"{"
    for number, table in enumerate(tables()):
        shown = columns(table)
        names = [column.name for column in shown]
        yield ("," if number else "").encode() + json.dumps(table.name).encode() + b":["
        first = True
        for rows in _rows(session, table, shown):
            texts = [
                json.dumps({n: plain(v) for n, v in zip(names, row, strict=True)}, ensure_ascii=False) for row in rows
            ]
            yield ("" if first else ",").encode() + ",\n".join(texts).encode()
            first = False
        yield b"]\n"
    yield b"}\n"


def _rows(session: Session, table: sa.Table, shown: list[sa.Column[Any]]) -> Iterator[list[Any]]:
    """The rows of a table in the order of its key, some at a time."""
    statement = sa.select(*shown).order_by(*table.primary_key.columns)
    result = session.connection().execution_options(yield_per=_AT_ONCE).execute(statement)
    for some in result.partitions(_AT_ONCE):
        yield [tuple(row) for row in some]
