"""Wood for an ordered flute: halves that suit its pattern, reserved as its blanks are opened."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import OrderedFlute, PatternRevision, StockItem
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.base.finding import find
from webapp.shop.orders import flutes as ordered_flutes, rules as orders
from webapp.shop.orders.forms import OpenBlanks
from webapp.shop.patterns import rules as patterns
from webapp.shop.production import opening as blanks
from webapp.shop.settings import workshop
from webapp.shop.stock import halves, lists as stock_list
from webapp.shop.units.keys import show_note
from webapp.shop.wood import species as woods

router = APIRouter()


@router.get("/orders/{number}/flutes/{flute_id}/wood")
def ask(desk: View, number: int, flute_id: int) -> Response:
    return _page(desk, number, flute_id, Form({"count": "1"}))


@router.post("/orders/{number}/flutes/{flute_id}/wood")
def open_blanks(desk: Act, number: int, flute_id: int) -> Response:
    def rule(form: Form) -> None:
        flute = ordered_flutes.flute_of(desk.session, orders.order_of(desk.session, number), flute_id)
        revision = _revision(desk, flute)
        asked = form.read(OpenBlanks)
        item_id = asked.item_id if isinstance(asked.item_id, int) else None
        if item_id is not None:
            if (item := desk.session.get(StockItem, item_id)) is None:
                raise Invalid({"item_id": "Choose one of the list."})
            allowed = workshop.workshop(desk.session)
            halves.must_suit(patterns.instrument_of(revision), item, desk.who.units, allowed)
        assert revision.id is not None
        blanks.open_blanks(desk.session, desk.who, flute_id, revision.id, flute.species_id, item_id, asked.count)

    return desk.submit(
        rule,
        again=lambda form, status: _page(desk, number, flute_id, form, status),
        to=f"/orders/{number}#flute-{flute_id}",
    )


def _revision(desk: Desk, flute: OrderedFlute) -> PatternRevision:
    if flute.revision_id is None:
        raise Refused("Choose a pattern for this flute first: its wood depends on it.")
    return find(desk.session, PatternRevision, flute.revision_id, "revision")


def _page(desk: Desk, number: int, flute_id: int, form: Form, status: int = 200) -> Response:
    order = orders.order_of(desk.session, number)
    flute = ordered_flutes.flute_of(desk.session, order, flute_id)
    revision = _revision(desk, flute)
    instrument = patterns.instrument_of(revision)
    found = halves.candidates(desk.session, instrument, flute.species_id, desk.who.units)
    species = woods.wood(desk.session, flute.species_id)
    return desk.render(
        "orders/wood.html",
        status=status,
        order=order,
        flute=flute,
        pattern=patterns.pattern_of(desk.session, revision.pattern_id),
        revision=revision,
        species=species,
        cautions=woods.cautions(species),
        needed=halves.needed(instrument, workshop.workshop(desk.session)),
        rounded_up=halves.rounded_up,
        candidates=found,
        form=form,
        amount=stock_list.show_quantity,
        as_note=show_note,
    )
