"""Opening blanks for the shelf, without an order; those for an order are opened from the order."""

from typing import Annotated

from fastapi import APIRouter
from fastapi.responses import Response
from pydantic import BaseModel, Field
from sqlmodel import col, select

from webapp.models import Blank, Pattern, PatternRevision, Species, StockKind
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.drawn import address
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import LARGEST_ID
from webapp.shop.blanks import hands
from webapp.shop.production import opening as blanks
from webapp.shop.stock import lists as stock_list
from webapp.shop.units.keys import show_note
from webapp.shop.wood import species as woods

router = APIRouter()

Id = Annotated[int, Field(ge=1, le=LARGEST_ID)]
NEWEST = 200


class OpenForTheShelf(BaseModel):
    """Which pattern's revision, of what wood, how many."""

    revision_id: Id
    species_id: Id
    item_id: Id | None = None
    count: Annotated[int, Field(ge=1, le=blanks.MOST_AT_ONCE)] = 1
    hands_id: Id | None = None


@router.get("/blanks/new")
def ask(desk: View) -> Response:
    return _form(desk, Form({"count": "1", "revision_id": desk.request.query_params.get("revision", "")}))


@router.post("/blanks/new")
def open_for_the_shelf(desk: Act) -> Response:
    def rule(form: Form) -> list[Blank]:
        asked = form.read(OpenForTheShelf)
        for name, table in (("revision_id", PatternRevision), ("species_id", Species)):
            if desk.session.get(table, getattr(asked, name)) is None:
                raise Invalid({name: "Choose one of the list."})
        return blanks.open_blanks(
            desk.session,
            desk.who,
            None,
            asked.revision_id,
            asked.species_id,
            asked.item_id,
            asked.count,
            asked.hands_id,
        )

    return desk.submit(
        rule,
        again=lambda form, status: _form(desk, form, status),
        to=lambda made: address(made[0]) if len(made) == 1 else "/blanks?stage=boring",
    )


def _form(desk: Desk, form: Form, status: int = 200) -> Response:
    session = desk.session
    revisions = session.exec(
        select(PatternRevision.id, PatternRevision.number, Pattern.name, Pattern.key)
        .join(Pattern, col(Pattern.id) == PatternRevision.pattern_id)
        .order_by(col(PatternRevision.id).desc())
        .limit(NEWEST)
    )
    lots = [lot for lot in stock_list.shelf(session, StockKind.HALVES, False) if lot.free >= 1]
    return desk.render(
        "blanks/open.html",
        status=status,
        form=form,
        revisions=[(id_, f"{show_note(key)}: {name}, revision {number}") for id_, number, name, key in revisions],
        people=hands.people(session),
        woods=[(wood.id, woods.named_with_flags(wood)) for wood in woods.woods(session)],
        lots=[
            (lot.item.id, f"{lot.item.name}: {stock_list.show_quantity(lot.free, lot.item.unit)} free") for lot in lots
        ],
    )
