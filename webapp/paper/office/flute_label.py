"""A small label for a finished flute or its case: what it is, and the code of its own page."""

from sqlmodel import Session

from webapp.models import Blank, Shop, Species
from webapp.paper.press.jobs import Job
from webapp.paper.shelf.labels import SHEETS, Label, labels_job
from webapp.shop.base.errors import Refused
from webapp.shop.base.finding import find
from webapp.shop.flute_pages import address
from webapp.shop.units.keys import show_note


def flute_label(session: Session, blank: Blank, public_url: str) -> Label:
    """The label of one flute. Raises Refused where it has no page of its own that a code could lead to."""
    path = address.path_of(session, blank)
    if path is None:
        raise Refused(
            f"{blank.serial} has no page of its own: it is not finished, or the shop has not switched such pages on."
        )
    shop = find(session, Shop, 1, "shop")
    wood = find(session, Species, blank.species_id, "wood").name
    lines = (f"{show_note(blank.key)}, {wood}", shop.name)
    return Label(blank.serial, lines, f"{public_url.rstrip('/')}{path}")


def label_job(label: Label) -> Job:
    """One label as a page of its own, for a roll or to cut out."""
    return labels_job([label], SHEETS["roll"])
