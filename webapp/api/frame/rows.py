"""Rows as the API shows them, and the models that describe them, made from the tables themselves."""

from collections.abc import Iterable
from dataclasses import asdict, fields as fields_of, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from functools import cache
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

import sqlalchemy as sa
from pydantic import BaseModel, ConfigDict, Field, WithJsonSchema, create_model
from sqlmodel import SQLModel

from webapp.models import Role
from webapp.shop.exchange.exporting import columns, plain
from webapp.shop.people import amounts

# Money and other exact amounts are text, digit by digit.
Exact = Annotated[str, WithJsonSchema({"type": "string", "format": "decimal"})]


class Shown(BaseModel):
    """What an answer holds: these fields and no others."""

    model_config = ConfigDict(extra="forbid")


class Row(dict[str, Any]):
    """A row as JSON that knows its table, so that the answer leaves out what whoever asks does not see."""

    def __init__(self, table: str, values: dict[str, Any]) -> None:
        super().__init__(values)
        self.table = table

    def __or__(self, other: Any) -> "Row":  # type: ignore[override]
        return Row(self.table, {**self, **other})


def row(thing: SQLModel, **more: Any) -> Row:
    """A row as JSON: lengths in mm, money as text, moments with their zone; `more` beside it."""
    table: Any = type(thing).__dict__["__table__"]
    return Row(table.name, {column.name: plain(getattr(thing, column.key)) for column in columns(table)} | more)


def seen_by(role: Role, data: Any) -> Any:
    """An answer without the fields that someone of this role does not see, wherever a row stands in it."""
    if isinstance(data, dict):
        hidden = amounts.hidden(role, data.table) if isinstance(data, Row) else ()
        return {name: seen_by(role, value) for name, value in data.items() if name not in hidden}
    if isinstance(data, list | tuple):
        return [seen_by(role, value) for value in data]
    return data


def rows(things: Iterable[SQLModel]) -> list[Row]:
    return [row(thing) for thing in things]


@cache
def row_of(table: type[SQLModel]) -> type[BaseModel]:
    """The model of a row alone, named after its table."""
    return model_of(f"{table.__name__}Row", table)


def model_of(name: str, table: type[SQLModel], /, *without: str, **more: Any) -> type[BaseModel]:
    """The model of a row with what is shown beside it: a type, or a type and its default where it may be missing.

    `without`: columns that are not shown. What some role does not see may be missing.
    """
    of: Any = table.__dict__["__table__"]
    fields: dict[str, Any] = {
        column.name: (_type(column), ...) for column in columns(of) if column.name not in {*without, *more}
    } | more
    for field in amounts.hidden_from_some(of.name) & fields.keys():
        kind = fields[field]
        fields[field] = maybe(kind[0] if isinstance(kind, tuple) else kind)
    return made(name, (table.__doc__ or table.__name__).partition("\n")[0], **fields)


def said(thing: Any) -> Any:
    """A dataclass as JSON, and all that it holds."""
    return _said(asdict(thing))


def model_from(of: type[Any], name: str = "", /, *without: str, **more: Any) -> type[BaseModel]:
    """The model of a dataclass as `said` says it, with what is shown beside it."""
    hints = get_type_hints(of)
    known = {one.name: (_said_type(hints[one.name]), ...) for one in fields_of(of) if one.name not in {*without, *more}}
    return made(name or of.__name__, (of.__doc__ or of.__name__).partition("\n")[0], **known | more)


def _said(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _said(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_said(one) for one in value]
    return plain(value)


def _said_type(kind: Any) -> Any:
    if isinstance(kind, type) and issubclass(kind, Enum):
        return Literal[tuple(str(one.value) for one in kind)]
    if kind is Decimal:
        return Exact
    if is_dataclass(kind):
        return model_from(kind)  # type: ignore[arg-type]
    if isinstance(kind, UnionType) or get_origin(kind) is Union:
        return Union[tuple(_said_type(one) for one in get_args(kind))]  # noqa: UP007
    if get_origin(kind) in (tuple, list):
        return many(_said_type(get_args(kind)[0]))
    return kind


def made(name: str, doc: str, base: type[BaseModel] | None = None, /, **fields: Any) -> type[BaseModel]:
    """A model of fields whose types are made from tables or dataclasses too."""
    given: dict[str, Any] = {field: kind if isinstance(kind, tuple) else (kind, ...) for field, kind in fields.items()}
    return create_model(name, __base__=base or Shown, __doc__=doc, **given)


def many(kind: Any) -> Any:
    """A list of these."""
    return list[kind]


def maybe(kind: Any) -> tuple[Any, Any]:
    """A field that is missing for those who may not see it."""
    return (kind, Field(default=None))


def listed(kind: Any, **more: Any) -> type[BaseModel]:
    """The model of a list of these, with what is said beside it."""
    return _listed(kind, tuple(sorted(more.items(), key=lambda one: one[0])))


def paged(kind: Any) -> type[BaseModel]:
    """The model of one page of a list of these."""
    return listed(kind, page=int, more=bool)


@cache
def _listed(kind: Any, more: tuple[tuple[str, Any], ...]) -> type[BaseModel]:
    name = kind.__name__.capitalize() if kind is str else kind.__name__
    if more:
        name += (
            "Page"
            if dict(more).keys() == {"page", "more"}
            else "".join(word.title().replace("_", "") for word, _ in more)
        )
    beside: dict[str, Any] = {name: (of, ...) for name, of in more}
    return create_model(
        f"{name}List" if not name.endswith("Page") else name, __base__=Shown, items=(list[kind], ...), **beside
    )


def _type(column: sa.Column[Any]) -> Any:
    kind = _plain_type(column)
    return kind | None if column.nullable else kind


def _plain_type(column: sa.Column[Any]) -> Any:
    if isinstance(column.type, sa.JSON) or getattr(column.type, "impl", None) is sa.JSON:
        return Any
    if isinstance(column.type, sa.Enum):
        return Literal[tuple(column.type.enums)]
    try:
        kind = column.type.python_type
    except NotImplementedError:
        return str
    if issubclass(kind, Enum):
        return Literal[tuple(str(one.value) for one in kind)]
    if issubclass(kind, Decimal):
        return Exact
    return kind if kind in (bool, int, float, datetime, date) else str if kind is str else Any
