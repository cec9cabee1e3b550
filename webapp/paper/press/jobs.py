"""What is handed to the press: kept apart from it and from WeasyPrint, so that either can be imported alone."""

from collections.abc import Sequence
from dataclasses import dataclass

from webapp.serving import process


@dataclass(frozen=True, slots=True)
class Job:
    """One document: its style sheet in `templates/paper`, and its HTML from roomy to dense.

    The first version that takes `at_most` pages is used, else the last one, however long: a paper that runs
    over by a page is better than one with a caution cut off. With `at_most` None the first is taken as it is.
    `attached` are files that travel with it: name, what it is, text.
    """

    style: str
    versions: tuple[str, ...]
    at_most: int | None = None
    attached: tuple[tuple[str, str, str], ...] = ()


class UnprintableError(Exception):
    """The document can't be set: it asks for something from outside, or for nothing at all."""


# What a worker runs. WeasyPrint is imported there and never in the server's own process.


def get_ready() -> None:
    from webapp.paper.press import typeset

    process.stand_back()
    typeset.get_ready()


def set_pages(jobs: Sequence[Job]) -> bytes:
    from webapp.paper.press import typeset

    return typeset.typeset(jobs)


def bind(parts: Sequence[bytes]) -> bytes:
    from webapp.paper.press import typeset

    return typeset.bind(parts)
