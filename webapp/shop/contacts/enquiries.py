"""An enquiry noted before key or wood is known: made complete later by adding its flute, and not confirmed before."""

from typing import Annotated

from pydantic import Field, StringConstraints
from sqlmodel import Session

from webapp.models import Order, OrderStatus, Species
from webapp.shop.base.errors import Invalid
from webapp.shop.orders import rules as orders
from webapp.shop.orders.checks import wrong_customer, wrong_facts
from webapp.shop.orders.forms import MOST_FLUTES, Facts, ForWhom, Id
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.units.keys import Key, show_note

OPEN = "Asked for so far: "
LONGEST_NOTE = 2000


class NoteEnquiry(Facts, ForWhom):
    """What is known of an enquiry; of the flute, as much as was said."""

    key: Key | None = None
    species_id: Id | None = None
    extras: Annotated[str, StringConstraints(max_length=1000)] = ""
    count: Annotated[int, Field(ge=1, le=MOST_FLUTES)] = 1


def note(session: Session, who: Who, asked: NoteEnquiry) -> Order:
    """Enter an enquiry without a flute; what was said of one stands in its note. Raises NotAllowed, Invalid."""
    who.must_work()
    wrong = wrong_facts(asked, orders.today(session), OrderStatus.ENQUIRY) | wrong_customer(session, asked)
    wood = session.get(Species, asked.species_id) if asked.species_id else None
    if asked.species_id and wood is None:
        wrong["species_id"] = "Choose one of the list."
    said = "\n".join(text for text in (_so_far(asked, wood), asked.note) if text)
    if len(said) > LONGEST_NOTE:
        wrong["note"] = f"Shorten this to {LONGEST_NOTE - (len(said) - len(asked.note))} characters."
    if wrong:
        raise Invalid(wrong)
    order = orders.new_order(session, who, asked, OrderStatus.ENQUIRY, asked.model_copy(update={"note": said}))
    diary.write(session, who, "order", order.id, "Noted as an enquiry; its flute is still open")
    session.flush()
    return order


def _so_far(asked: NoteEnquiry, wood: Species | None) -> str:
    said = [f"{asked.count} flutes"] if asked.count > 1 else []
    said += [f"in {show_note(asked.key)}"] if asked.key else []
    said += [wood.name] if wood else []
    said += [asked.extras] if asked.extras else []
    return OPEN + ", ".join(said) if said else ""
