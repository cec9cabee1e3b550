"""The wood of a blank and what it cost; what the seasons do to a flute; the handbook's figures of a wood."""

from decimal import Decimal
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response
from sqlmodel import col, select

from acoustics.flute.instrument import Instrument
from webapp.drawings.charts.seasons import season_picture
from webapp.models import Blank, Pattern, PatternRevision, Species, Stage
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import as_id, find
from webapp.shop.bench.readings import goals_of
from webapp.shop.costs import rules as costs
from webapp.shop.costs.rules import MinutesWere
from webapp.shop.orders import money as order_money, prices, rules as orders
from webapp.shop.patterns import rules as patterns
from webapp.shop.settings import air
from webapp.shop.settings.workshop import workshop
from webapp.shop.stock import lists as stock_list
from webapp.shop.units.keys import show_note
from webapp.shop.wood import seasons, species as woods, wood_data
from webapp.shop.wood.origin import origin_of
from webapp.shop.wood.seasons import Sawn

router = APIRouter()


@router.get("/blanks/{serial}/wood")
def blank_wood(desk: View, serial: str) -> Response:
    return _blank(desk, _blank_of(desk, serial))


@router.post("/blanks/{serial}/minutes")
def set_minutes(desk: Act, serial: str) -> Response:
    return desk.submit(
        lambda form: costs.set_minutes(desk.session, desk.who, _id_of(desk, serial), form.read(MinutesWere)),
        again=lambda form, status: _blank(desk, _blank_of(desk, serial), form, status=status),
        to=f"/blanks/{serial}/wood#time",
    )


@router.post("/blanks/{serial}/supplies")
def take_supplies(desk: Act, serial: str) -> Response:
    return desk.submit(
        lambda form: costs.take_supplies(desk.session, desk.who, _id_of(desk, serial)),
        again=lambda form, status: _blank(desk, _blank_of(desk, serial), supplies=form, status=status),
        to=f"/blanks/{serial}/wood#materials",
    )


@router.get("/orders/{number}/costs")
def order_costs(desk: View, number: int) -> Response:
    order = orders.order_of(desk.session, number)
    found = costs.cost_of_order(desk.session, order)
    price = sum((flute.amount for flute in orders.flutes_of(desk.session, order)), start=Decimal(0))
    total = sum((one.total for one in found), start=Decimal(0))
    return desk.render(
        "orders/costs.html",
        order=order,
        found=found,
        price=price,
        net=prices.margin(price, total, order_money.tax_of(order, order_money.usual_tax(desk.session))).net,
        total=total,
        amount=stock_list.show_quantity,
    )


@router.get("/patterns/{pattern_id}/{number}/seasons")
def pattern_seasons(desk: View, pattern_id: int, number: int) -> Response:
    pattern = patterns.pattern_of(desk.session, pattern_id)
    revision = patterns.revision_of(desk.session, pattern_id, number)
    known = [wood for wood in woods.woods(desk.session) if woods.figures(wood)]
    chosen = as_id(desk.request.query_params.get("wood", ""))
    species = next((wood for wood in known if wood.id == chosen), known[0] if known else None)
    return desk.render(
        "patterns/seasons.html",
        pattern=pattern,
        revision=revision,
        species=species,
        as_note=show_note,
        form=Form({"wood": species.id if species else "", "sawn": _sawn(desk).value}),
        woods=[(wood.id, wood.name) for wood in known],
        **(_year(desk, species, revision, pattern, None) if species else {"year": None}),
    )


@router.get("/stock/woods/{species_id}/figures")
def wood_figures(desk: View, species_id: int) -> Response:
    wood = woods.wood(desk.session, species_id)
    found = workshop(desk.session)
    newest = desk.session.exec(
        select(PatternRevision, Pattern)
        .join(Pattern, col(Pattern.id) == PatternRevision.pattern_id)
        .order_by(col(PatternRevision.id).desc())
        .limit(1)
    ).first()
    levels = [
        (h, wood_data.equilibrium_moisture(found.indoor_temperature, h / 100)) for h in (20, 30, 40, 50, 60, 70, 80)
    ]
    return desk.render(
        "stock/figures.html",
        wood=wood,
        figures=woods.figures(wood),
        cautions=woods.cautions(wood),
        levels=levels,
        found=found,
        handbook=wood_data.HANDBOOK,
        made_at=seasons.made_moisture(desk.shop, found),
        lots=stock_list.shelf(desk.session, species_id=species_id),
        amount=stock_list.show_quantity,
        newest=newest,
        as_note=show_note,
        **(_year(desk, wood, *newest, None) if newest else {"year": None}),
    )


def _blank_of(desk: Desk, serial: str) -> Blank:
    blank = desk.session.exec(select(Blank).where(Blank.serial == serial)).first() if len(serial) <= 20 else None
    if blank is None:
        raise NotFound(f"There is no blank {serial[:20]}.")
    return blank


def _id_of(desk: Desk, serial: str) -> int:
    blank = _blank_of(desk, serial)
    assert blank.id is not None
    return blank.id


def _blank(
    desk: Desk, blank: Blank, form: Form | None = None, supplies: Form | None = None, status: int = 200
) -> Response:
    assert blank.id is not None
    revision = find(desk.session, PatternRevision, blank.revision_id, "revision")
    pattern = find(desk.session, Pattern, revision.pattern_id, "pattern")
    origin = origin_of(desk.session, blank)
    return desk.render(
        "blanks/wood.html",
        status=status,
        blank=blank,
        pattern=pattern,
        revision=revision,
        origin=origin,
        cautions=woods.cautions(origin.species),
        cost=costs.cost_of_blank(desk.session, blank.id),
        sees_costs=costs.may_see(desk.who),
        stages=[(stage.value, stage.value) for stage in Stage],
        form=form or Form({"stage": blank.stage.value}),
        supplies=supplies or Form(),
        amount=stock_list.show_quantity,
        as_note=show_note,
        sawn_choice=Form({"sawn": _sawn(desk).value}),
        **_year(desk, origin.species, revision, pattern, origin.moisture),
    )


def _sawn(desk: Desk) -> Sawn:
    text = desk.request.query_params.get("sawn")
    return Sawn.QUARTER if text == Sawn.QUARTER.value else Sawn.FLAT


def _year(
    desk: Desk, species: Species, revision: PatternRevision, pattern: Pattern, moisture: float | None
) -> dict[str, Any]:
    """The flute through the shop's year, made at its wood's last moisture reading, or as settled in the bench's air."""
    figures = woods.figures(species)
    if figures is None:
        return {"year": None, "picture": None, "made_from": ""}
    found = workshop(desk.session)
    made_at = moisture if moisture is not None else seasons.made_moisture(desk.shop, found)
    flute: Instrument = patterns.instrument_of(revision)
    fingerings = [goal.fingering for goal in goals_of(revision, pattern)]
    year = seasons.through_the_year(flute, figures, found, made_at, air.played(desk.shop), fingerings, _sawn(desk))
    return {
        "year": year,
        "picture": season_picture(year, desk.who.units),
        "made_from": "read on its wood" if moisture is not None else "as settled in the bench's air",
    }
