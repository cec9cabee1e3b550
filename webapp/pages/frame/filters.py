"""Which blanks are wanted, as it stands in the address of the rack and of the list."""

from collections.abc import Iterable
from typing import Any

from fastapi import Request
from sqlmodel import Session, select

from webapp.models import BlankStatus, Pattern, Species, Stage
from webapp.pages.frame.forms import Form
from webapp.shop.base.finding import as_id
from webapp.shop.blanks import hands
from webapp.shop.blanks.lists import Waiting, Wanted
from webapp.shop.units.keys import parse_key, show_note

WAITING = [
    (Waiting.GLUE_UP, "Awaiting glue-up"),
    (Waiting.CLAMPS, "In clamps"),
    (Waiting.VOICING, "Awaiting voicing"),
    (Waiting.TUNING, "Awaiting tuning"),
    (Waiting.LATE, "Late"),
]
ALL = "all"
ME = "me"
FILTERS = ("status", "stage", "waiting", "key", "wood", "person")


def typed(request: Request) -> dict[str, str]:
    return {name: value.strip() for name, value in request.query_params.items()}


def kept(typed: dict[str, str]) -> dict[str, str]:
    """The part of an address that filters, to be carried on."""
    return {name: value for name, value in typed.items() if name in FILTERS and value}


def wanted(form: Form, me: int) -> tuple[Wanted, int]:
    """What the address asks for, and which page of it; what names nothing is said at its field."""
    values = form.values

    def one_of(name: str, choices: Iterable[Any]) -> Any:
        value = values.get(name) or None
        if value is None:
            return None
        found = next((choice for choice in choices if str(choice) == str(value)), None)
        if found is None:
            form.errors[name] = "Choose one of the list."
        return found

    def number(name: str) -> int | None:
        value = values.get(name) or None
        found = as_id(value) if value else None
        if value and found is None:
            form.errors[name] = "Choose one of the list."
        return found

    status = None if values.get("status") == ALL else one_of("status", BlankStatus)
    key = None
    if values.get("key"):
        try:
            key = parse_key(values["key"])
        except ValueError as error:
            form.errors["key"] = str(error)
    page = str(values.get("page", "1"))
    return (
        Wanted(
            status=status,
            stage=one_of("stage", Stage),
            waiting=one_of("waiting", Waiting),
            key=key,
            species_id=number("wood"),
            hands_id=me if values.get("person") == ME else number("person"),
        ),
        int(page) if page.isascii() and page.isdigit() and 0 < len(page) < 6 and int(page) else 1,
    )


def woods(session: Session) -> list[tuple[int | None, str]]:
    return [(wood.id, wood.name) for wood in session.exec(select(Species).order_by(Species.name))]


def people(session: Session) -> list[tuple[int | str, str]]:
    return [(ME, "mine"), *hands.people(session)]


def keys(session: Session) -> list[tuple[str, str]]:
    """The keys that the shop has patterns in."""
    return [(key, show_note(key)) for key in session.exec(select(Pattern.key).distinct().order_by(Pattern.key))]
