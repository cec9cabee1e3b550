"""One way of the API: method and address, the scope it needs, what it takes, what it shows; and one call of it."""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from pydantic import BaseModel
from sqlmodel import Session, SQLModel

from webapp.api.around import Around
from webapp.api.problems import Problem
from webapp.shop.base.errors import Stale
from webapp.shop.base.finding import as_id
from webapp.shop.base.marks import marked
from webapp.shop.exchange.exporting import columns, plain
from webapp.shop.people.accounts import Who
from webapp.shop.people.tokens import Scope

Model = TypeVar("Model", bound=BaseModel)
LAST_PAGE = 1_000_000
JSON = "application/json"
PDF = "application/pdf"
MOST_OF_A_LIST = 400  # values of one name in the query


@dataclass(slots=True)
class Call:
    """One request at work: who asks, the session, the parts of the address, the body as checked, and what is around.

    `seen` is the version that If-Match names, `ready` what was made of a body that is a file.
    """

    session: Session
    who: Who
    path: Mapping[str, Any]
    query: Any
    body: BaseModel | None
    around: Around
    base: str
    seen: str = ""
    ready: Any = None

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

    def query_texts(self, name: str) -> list[str]:
        """Every value of a name that may come several times, or once with commas."""
        given = [part.strip() for text in self.query.getlist(name) for part in text.split(",")]
        return [part for part in given if part and part.isprintable()][:MOST_OF_A_LIST]

    def query_ids(self, name: str) -> list[int]:
        """Numbers of a name that may come several times, or once with commas. Raises Problem."""
        found = [as_id(text) for text in self.query_texts(name)]
        if None in found:
            raise Problem("invalid", f"{name}: write numbers, with commas between.", {name: "Write numbers."})
        return [one for one in found if one is not None]

    def choice(self, name: str, words: list[str], otherwise: str) -> str:
        """One of a list of words in the query. Raises Problem."""
        given: str = self.query.get(name, otherwise)
        if given not in words:
            raise Problem("invalid", f"{name}: choose one of {', '.join(words)}.", {name: "Choose one of the list."})
        return given

    def must_be_as_seen(self, present: Mapping[str, Any]) -> None:
        """Of something without a number of its own for each version: that it still says what the key's ETag was of.

        Raises Stale, with what it says now.
        """
        if self.seen != marked(present):
            raise Stale({name: "" if value is None else str(plain(value)) for name, value in present.items()})

    def address(self, path: str = "") -> str:
        """The whole address of a page of the shop, as it is printed or sent."""
        return (self.around.public_url or self.base.rstrip("/")) + path


@dataclass(frozen=True, slots=True)
class File:
    """A file as the answer, whole or in pieces as they are made."""

    content: bytes | Iterator[bytes]
    kind: str
    name: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What a call gives back. `version` goes into the ETag, `location` says where the new thing is.

    `secret`: it holds something that is shown this once, so it is never kept for a repeated request.
    """

    data: Any
    version: int | str | None = None
    location: str | None = None
    file: File | None = None
    secret: bool = False


@dataclass(frozen=True, slots=True)
class Way:
    """One operation.

    `does` names the addresses of the pages that do the same: by the first of them the table of roles decides who may.
    `marked`: only on what was seen, by the ETag, of something that counts no versions. `gives` and `takes` are what
    the answer and the body are, where they are no JSON; `makes_ready` makes something of such a body before anything
    is locked. `secret`: the answer is shown this once.
    """

    method: str
    path: str
    summary: str
    handler: Callable[[Call], Answer]
    scope: Scope = Scope.READ
    model: type[BaseModel] | None = None
    shows: str = ""
    listed: bool = False
    query: dict[str, str] = field(default_factory=dict)
    does: tuple[str, ...] = ()
    marked: bool = False
    gives: str = JSON
    takes: tuple[str, ...] = ()
    makes_ready: Callable[[Around, bytes], Any] | None = None
    secret: bool = False
    tag: str = ""

    @property
    def versioned(self) -> bool:
        """Whether it may only be done on the version that was seen."""
        found = self.model.model_fields.get("version") if self.model else None
        return found is not None

    @property
    def name(self) -> str:
        plain = re.sub(r"{(\w+)(?::\w+)?}", r"\1", self.path)
        return "-".join([self.method.lower(), *(part for part in plain.replace(".", "-").split("/") if part)])

    @property
    def parts(self) -> list[tuple[str, bool]]:
        """The names in the address, and whether each is a whole number."""
        return [(name, kind == ":int") for name, kind in re.findall(r"{(\w+)(:\w+)?}", self.path)]


def row(thing: SQLModel, **more: Any) -> dict[str, Any]:
    """A row as JSON: lengths in mm, money as text, moments with their zone; `more` beside it."""
    table: Any = type(thing).__dict__["__table__"]
    return {column.name: plain(getattr(thing, column.key)) for column in columns(table)} | more


def rows(things: Any) -> list[dict[str, Any]]:
    return [row(thing) for thing in things]


def paged(items: list[Any], page: int, more: bool) -> Answer:
    """One page of a list."""
    return Answer({"items": items, "page": page, "more": more})


def pdf(content: bytes, name: str) -> Answer:
    """A paper as the answer."""
    return Answer(None, file=File(content, PDF, f"{name}.pdf"))
