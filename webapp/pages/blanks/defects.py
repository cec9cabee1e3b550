"""Defects of a blank: written down, decisions about them; the shop's own names for them."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.blank.flaws import Flaw, flaw_strip
from webapp.models import Blank, BlankStatus, Defect, DefectChoice, PatternRevision, Role
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.drawn import address
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import find
from webapp.shop.blanks import photos, state as blank_state
from webapp.shop.patterns.rules import instrument_of
from webapp.shop.production import defects, new_aims
from webapp.shop.production.defects import Decide, NewCause, RecordDefect
from webapp.shop.routings.making import overall_length
from webapp.shop.units.keys import show_note

router = APIRouter()

CHOICES = [
    (DefectChoice.FILL, "Fill it", "It is filled or mended and goes on."),
    (DefectChoice.LEAVE, "Leave it", "It does no harm where it is."),
    (DefectChoice.SHORTEN, "Shorten the flute", "The foot is cut above it."),
    (DefectChoice.ANOTHER_KEY, "Make it in another key", "It leaves its order; the order's diary says so."),
    (DefectChoice.FIREWOOD, "Firewood", "Given up; what was reserved is released, and its order's diary says so."),
    (DefectChoice.NO_DEFECT, "It is no defect", "It was written down by mistake and is not counted."),
]


@router.get("/blanks/{serial}/defects")
def show(desk: View, serial: str) -> Response:
    return _page(desk, blank_state.by_serial(desk.session, serial))


@router.post("/blanks/{serial}/defects")
def record(desk: Act, serial: str) -> Response:
    blank = blank_state.by_serial(desk.session, serial)
    here = f"{address(blank)}/defects"
    return desk.submit(
        lambda form: defects.record(desk.session, desk.who, blank.id or 0, form.read(RecordDefect, desk.who.units)),
        again=lambda form, status: _page(desk, blank, form, status=status),
        to=lambda made: f"{here}#defect-{made.id}",
    )


@router.post("/blanks/{serial}/defects/{defect_id}")
def decide(desk: Act, serial: str, defect_id: int) -> Response:
    blank = blank_state.by_serial(desk.session, serial)
    if find(desk.session, Defect, defect_id, "defect").blank_id != blank.id:
        raise NotFound(f"Blank {blank.serial} has no such defect.")
    return desk.submit(
        lambda form: defects.decide(desk.session, desk.who, defect_id, form.read(Decide)),
        again=lambda form, status: _page(desk, blank, deciding=(defect_id, form), status=status),
        to=f"{address(blank)}/defects#defect-{defect_id}",
    )


@router.post("/yields/causes")
def add_cause(desk: Act) -> Response:
    return desk.submit(
        lambda form: defects.add_cause(desk.session, desk.who, form.read(NewCause)),
        again=lambda form, status: _causes(desk, form, status),
        to="/yields/causes",
    )


@router.get("/yields/causes")
def causes(desk: View) -> Response:
    return _causes(desk, Form())


def _causes(desk: Desk, form: Form, status: int = 200) -> Response:
    return desk.render("blanks/defects/cause.html", status=status, form=form, causes=defects.causes(desk.session))


def _page(
    desk: Desk, blank: Blank, form: Form | None = None, deciding: tuple[int, Form] | None = None, status: int = 200
) -> Response:
    session = desk.session
    found = defects.of_blank(session, blank.id)
    forms: dict[int | None, Form] = {one.defect.id: Form() for one in found}
    if deciding:
        forms[deciding[0]] = deciding[1]
    for defect_id, each in forms.items():
        each.id = f"d{defect_id}"
    in_hand = blank.status in (BlankStatus.IN_WORK, BlankStatus.FINISHED)
    aims = new_aims.possible(session, blank) if in_hand and found and desk.who.role is not Role.VIEWER else []
    return desk.render(
        "blanks/defects/blank.html",
        status=status,
        blank=blank,
        found=found,
        numbers={one.defect.id: number for number, one in enumerate(reversed(found), 1)},
        strip=_strip(desk, blank, found),
        form=form or Form(),
        forms=forms,
        may=in_hand and desk.who.role is not Role.VIEWER,
        causes=[(name, name.capitalize()) for name in defects.causes(session)],
        choices=CHOICES,
        aims=[(one.revision_id, f"{one.name} ({show_note(one.key)})") for one in aims],
        pictures=[one for one in photos.of_blank(session, blank.id) if one.photo.defect_id],
    )


def _strip(desk: Desk, blank: Blank, found: list[defects.Found]) -> Any:
    """The blank from above with each defect whose place is known; nothing where none is."""
    flute = instrument_of(find(desk.session, PatternRevision, blank.revision_id, "revision"))
    length = overall_length(flute)
    mouth = length - flute.foot_x
    flaws = []
    for number, one in enumerate(reversed(found), 1):
        defect = one.defect
        if defect.start is not None and not one.no_defect:
            flaws.append(Flaw(number, defect.start, defect.end or defect.start, defect.cause, defect.is_open))
    return flaw_strip(flute, max([length, *(flaw.end for flaw in flaws)]), mouth, flaws) if flaws else None
