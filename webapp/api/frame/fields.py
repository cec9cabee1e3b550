"""Types of what stands in addresses and queries."""

from collections.abc import Sequence
from typing import Annotated, Final

from fastapi import Query
from pydantic import AfterValidator, BeforeValidator, Field

from webapp.api.frame.problems import Problem
from webapp.shop.base.finding import LARGEST_ID, as_id

LAST_PAGE: Final = 1_000_000
MOST_OF_A_LIST: Final = 400  # values of one name in the query


def _page(value: object) -> int:
    return min(as_id(value) or 1, LAST_PAGE)


def _short(value: str) -> str:
    return value[:60]


Page = Annotated[int, BeforeValidator(_page), Query(description="the page, from 1")]
Serial = Annotated[str, AfterValidator(_short)]
Id = Annotated[int, Field(ge=1, le=LARGEST_ID)]


def texts(given: Sequence[str]) -> list[str]:
    """Every value of a name that may come several times, or once with commas."""
    parts = [part.strip() for text in given for part in text.split(",")]
    return [part for part in parts if part and part.isprintable()][:MOST_OF_A_LIST]


def ids(name: str, given: Sequence[str]) -> list[int]:
    """Numbers of a name that may come several times, or once with commas. Raises Problem."""
    found = [as_id(text) for text in texts(given)]
    if None in found:
        raise Problem("invalid", f"{name}: write numbers, with commas between.", {name: "Write numbers."})
    return [one for one in found if one is not None]
