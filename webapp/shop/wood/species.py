"""Woods: what the shop works with, and the cautions of each."""

import re
from typing import Annotated

from pydantic import BaseModel, StringConstraints, field_validator
from sqlmodel import Session, col, select

from webapp.models import Species
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.wood.wood_data import BY_NAME, Wood, figures_for

SENSITISING = "The dust can sensitise skin and lungs, for good: extract it at the source and wear a fitted mask."
RESTRICTED = "Trade in this wood may be restricted: check before buying, selling or sending it abroad."
FOR_ITS_OWNER = (
    "Some people's skin or airways react to {wood}, to its dust above all: do not sand or file it. If lips, skin or "
    "breath react, stop playing it and ask a doctor."
)
ABROAD = (
    "Trade in {wood} may be restricted, as a finished instrument too: ask the authority of your country before it is "
    "sold, sent or taken abroad."
)
DEFERENCE = "Local codes and qualified advice come first."


class WoodAsked(BaseModel):
    """A wood as it is typed in."""

    name: Annotated[str, StringConstraints(min_length=1, max_length=60)]
    colour: str = "#b98a56"
    sensitising: bool = False
    restricted: bool = False
    what_to_check: Annotated[str, StringConstraints(max_length=500)] = ""
    reckoned_as: str | None = None

    @field_validator("reckoned_as")
    @classmethod
    def _in_the_handbook(cls, value: str | None) -> str | None:
        if value is not None and value not in BY_NAME:
            raise ValueError("Choose one of the list.")
        return value

    @field_validator("colour")
    @classmethod
    def _a_colour(cls, value: str) -> str:
        if not re.fullmatch(r"#[0-9a-fA-F]{6}", value):
            raise ValueError("Write a colour as #rrggbb, such as #b98a56.")
        return value.lower()


def woods(session: Session) -> list[Species]:
    return list(session.exec(select(Species).order_by(Species.name)))


def wood(session: Session, species_id: int) -> Species:
    """Raises NotFound."""
    return find(session, Species, species_id, "wood")


def add_wood(session: Session, who: Who, asked: WoodAsked) -> Species:
    """Add a wood. Raises NotAllowed, Invalid."""
    who.must_work()
    _name_is_free(session, asked.name, None)
    species = Species(**asked.model_dump())
    session.add(species)
    session.flush()
    diary.write(session, who, "wood", species.id, f"Added {species.name} to the woods")
    session.flush()
    return species


def change_wood(session: Session, who: Who, species_id: int, asked: WoodAsked) -> Species:
    """Change a wood. Raises NotAllowed, NotFound, Invalid."""
    who.must_work()
    species = find(session, Species, species_id, "wood", lock=True)
    _name_is_free(session, asked.name, species_id)
    for name, value in asked.model_dump().items():
        if (before := getattr(species, name)) != value:
            setattr(species, name, value)
            words = name.replace("_", " ").capitalize()
            diary.write(session, who, "wood", species.id, f"{words}: was {_said(before)}, is now {_said(value)}")
    session.add(species)
    session.flush()
    return species


def figures(species: Species) -> Wood | None:
    """The Wood Handbook's figures for a wood; none where it has none and no other wood was chosen."""
    return figures_for(species.name, species.reckoned_as)


def cautions(species: Species) -> list[str]:
    """Cautions for this wood, most important first; empty for a wood without flags."""
    said, own = [], species.what_to_check.lower()
    # What the shop wrote itself is more to the point than our general sentence on the same matter.
    if species.sensitising and "dust" not in own:
        said.append(SENSITISING)
    if species.restricted and "cites" not in own:
        said.append(RESTRICTED)
    if species.what_to_check:
        said.append(species.what_to_check)
    return [*said, DEFERENCE] if said else []


def owners_cautions(species: Species) -> list[str]:
    """Cautions for whoever plays a flute of this wood, most important first; empty for a wood without flags."""
    said = [FOR_ITS_OWNER.format(wood=species.name)] if species.sensitising else []
    if species.restricted:
        said.append(ABROAD.format(wood=species.name))
    if species.what_to_check:
        said.append(f"For whoever works on it: {species.what_to_check}")
    return [*said, DEFERENCE] if said else []


def in_short(species: Species) -> str:
    """The flags in a few words, for a list."""
    flags = [
        words for flag, words in ((species.sensitising, "dust sensitises"), (species.restricted, "restricted")) if flag
    ]
    return ", ".join(flags)


def named_with_flags(species: Species) -> str:
    """Its name, and its flags where it has any, for a list to choose from."""
    flags = in_short(species)
    return f"{species.name} ({flags})" if flags else species.name


def _said(value: object) -> str:
    return (
        {True: "yes", False: "no", "": "empty"}.get(value, str(value)) if isinstance(value, bool | str) else str(value)
    )


def _name_is_free(session: Session, name: str, own_id: int | None) -> None:
    taken = session.exec(select(Species.id).where(Species.name == name, col(Species.id) != (own_id or 0))).first()
    if taken:
        raise Invalid({"name": "There is a wood of that name already."})
