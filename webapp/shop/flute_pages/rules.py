"""The shop's words on its flutes' pages, and the switch that opens them all."""

from typing import Annotated

from pydantic import BaseModel, StringConstraints
from sqlmodel import Session

from webapp.models import FlutePages, Role
from webapp.shop.base.errors import Stale
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who

WARRANTY = (
    "A fault of making is put right at no charge. Wood that cracked from heat, dryness or damp is repaired at the "
    "cost of the work. Your rights under the law stay as they are."
)
FINISH_CARE = (
    "A thin coat of the oil or wax that it left with freshens the outside, seldom and sparingly. Cloths with drying "
    "oil heat up by themselves and catch fire: lay them flat outdoors to dry, or keep them under water in a closed "
    "metal can. Read the tin’s label first."
)
_WORDS = {"is_open": "Pages of flutes", "warranty": "Warranty", "finish_care": "Care for the finish"}


class FlutePagesAsked(BaseModel):
    """The switch and the words as typed; `version` is the one that was on the screen."""

    is_open: bool = False
    warranty: Annotated[str, StringConstraints(max_length=2000)] = ""
    finish_care: Annotated[str, StringConstraints(max_length=1000)] = ""
    version: int


def settings(session: Session) -> FlutePages:
    """As they stand; before anything is set, closed, with words to begin from, and not stored."""
    return session.get(FlutePages, 1) or FlutePages(warranty=WARRANTY, finish_care=FINISH_CARE, version=0)


def as_typed(said: FlutePages) -> dict[str, str]:
    """The switch and the words as the form's fields."""
    return {
        "is_open": "on" if said.is_open else "",
        "warranty": said.warranty,
        "finish_care": said.finish_care,
        "version": str(said.version),
    }


def change(session: Session, who: Who, asked: FlutePagesAsked) -> FlutePages:
    """Open or close the pages, and say what stands on them. Raises NotAllowed, Stale."""
    who.must(Role.OWNER)
    said = session.get(FlutePages, 1, with_for_update=True) or settings(session)
    if asked.version != said.version:
        raise Stale(as_typed(said))
    for name, words in _WORDS.items():
        if (value := getattr(asked, name)) != getattr(said, name):
            setattr(said, name, value)
            what = f"{words}: {'on' if value else 'off'}" if isinstance(value, bool) else f"{words}: new words"
            diary.write(session, who, "shop", 1, what)
    said.version += 1
    session.add(said)
    session.flush()
    return said
