"""One way of the API: method and address, the scope it needs, what it takes, what it shows; and one call of it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from pydantic import BaseModel
from sqlmodel import Session, SQLModel

from webapp.api.problems import Problem
from webapp.shop.accounts import Who
from webapp.shop.exporting import columns, plain
from webapp.shop.finding import as_id
from webapp.shop.tokens import Scope

Model = TypeVar("Model", bound=BaseModel)
LAST_PAGE = 1_000_000


@dataclass(slots=True)
class Call:
    """One request at work: who asks, the session, the parts of the address, and the body as checked."""

    session: Session
    who: Who
    path: Mapping[str, Any]
    query: Mapping[str, str]
    body: BaseModel | None = None

    def asked(self, model: type[Model]) -> Model:
        assert isinstance(self.body, model)
        return self.body

    def number(self, name: str) -> int:
        return int(self.path[name])

    def text(self, name: str) -> str:
        return str(self.path[name])[:60]

    @property
    def page(self) -> int:
        return min(as_id(self.query.get("page", "1")) or 1, LAST_PAGE)

    def query_id(self, name: str) -> int | None:
        """A number in the query; None where it is not given. Raises Problem."""
        if name not in self.query:
            return None
        if (found := as_id(self.query[name])) is None:
            raise Problem("invalid", f"{name} is not a number of this shop.", {name: "Write a number."})
        return found

    def choice(self, name: str, words: list[str], otherwise: str) -> str:
        """One of a list of words in the query. Raises Problem."""
        given = self.query.get(name, otherwise)
        if given not in words:
            raise Problem("invalid", f"{name}: choose one of {', '.join(words)}.", {name: "Choose one of the list."})
        return given


@dataclass(frozen=True, slots=True)
class Answer:
    """What a call gives back. `version` goes out as the ETag, `location` as where the new thing is."""

    data: Any
    version: int | None = None
    location: str | None = None


@dataclass(frozen=True, slots=True)
class Way:
    """One operation."""

    method: str
    path: str
    summary: str
    handler: Callable[[Call], Answer]
    scope: Scope = Scope.READ
    model: type[BaseModel] | None = None
    shows: str = ""
    listed: bool = False
    query: dict[str, str] = field(default_factory=dict)
    tag: str = ""

    @property
    def versioned(self) -> bool:
        """Whether it may only be done on the version that was seen."""
        found = self.model.model_fields.get("version") if self.model else None
        return found is not None

    @property
    def name(self) -> str:
        parts = [part.split(":")[0].strip("{}") for part in self.path.split("/") if part]
        return "-".join([self.method.lower(), *parts])


def row(thing: SQLModel, **more: Any) -> dict[str, Any]:
    """A row as JSON: lengths in mm, money as text, moments with their zone; `more` beside it."""
    table: Any = type(thing).__dict__["__table__"]
    return {column.name: plain(getattr(thing, column.key)) for column in columns(table)} | more


def rows(things: Any) -> list[dict[str, Any]]:
    return [row(thing) for thing in things]


def paged(items: list[Any], page: int, more: bool) -> Answer:
    """One page of a list."""
    return Answer({"items": items, "page": page, "more": more})
