"""Woods with what to watch, adhesives with their times, bottles of glue."""

from typing import Any

from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Call, Change, Look
from webapp.api.frame.rows import listed, many, model_of, row, row_of, rows
from webapp.api.frame.ways import OFFICE, WORK, way
from webapp.models import Adhesive, GlueLot, Species
from webapp.shop.base.finding import find
from webapp.shop.base.marks import marked
from webapp.shop.glue import adhesives
from webapp.shop.glue.adhesives import AdhesiveAsked, BottleAsked
from webapp.shop.wood import species as woods
from webapp.shop.wood.species import WoodAsked

WoodShown = model_of("WoodShown", Species, cautions=list[str])
AdhesiveShown = model_of("AdhesiveShown", Adhesive, bottles=many(row_of(GlueLot)))
router = ways.router("woods")


@router.get("/woods", **way("Woods", "/stock/woods", shows=listed(row_of(Species))))
def all_woods(call: Look) -> Response:
    return call.answer({"items": rows(woods.woods(call.session))})


@router.get("/woods/{id:int}", **way("One wood, with what to watch", "/stock/woods/{species_id}", shows=WoodShown))
def wood(call: Look, id: int) -> Response:
    return _wood(call, woods.wood(call.session, id))


@router.post("/woods", **way("Add a wood", "/stock/woods/new", scope=OFFICE, shows=row_of(Species), status=201))
def add_wood(call: Change, asked: WoodAsked) -> Response:
    made = woods.add_wood(call.session, call.who, asked)
    return call.answer(row(made), marked(_says(made)), f"/api/v1/woods/{made.id}")


@router.put(
    "/woods/{id:int}",
    **way("Change a wood", "/stock/woods/{species_id}", scope=OFFICE, shows=WoodShown, marked=True),
)
def change_wood(call: Change, id: int, asked: WoodAsked) -> Response:
    call.must_be_as_seen(_says(find(call.session, Species, id, "wood", lock=True)))
    return _wood(call, woods.change_wood(call.session, call.who, id, asked))


@router.get("/adhesives", **way("Adhesives and their times", "/shop", shows=listed(row_of(Adhesive))))
def all_adhesives(call: Look) -> Response:
    return call.answer({"items": rows(adhesives.adhesives(call.session))})


@router.get(
    "/adhesives/{id:int}",
    **way("One adhesive, with its bottles", "/shop/adhesives/{adhesive_id}", shows=AdhesiveShown),
)
def adhesive(call: Look, id: int) -> Response:
    return _adhesive(call, adhesives.adhesive(call.session, id))


@router.post(
    "/adhesives", **way("Add an adhesive", "/shop/adhesives/new", scope=WORK, shows=row_of(Adhesive), status=201)
)
def add_adhesive(call: Change, asked: AdhesiveAsked) -> Response:
    made = adhesives.add_adhesive(call.session, call.who, asked)
    return call.answer(row(made), marked(_says(made)), f"/api/v1/adhesives/{made.id}")


@router.put(
    "/adhesives/{id:int}",
    **way("Change an adhesive", "/shop/adhesives/{adhesive_id}", scope=WORK, shows=AdhesiveShown, marked=True),
)
def change_adhesive(call: Change, id: int, asked: AdhesiveAsked) -> Response:
    call.must_be_as_seen(_says(find(call.session, Adhesive, id, "adhesive", lock=True)))
    made = adhesives.change_adhesive(call.session, call.who, id, asked)
    return _adhesive(call, made)


@router.post(
    "/adhesives/{id:int}/bottles",
    **way("Open a bottle", "/shop/adhesives/{adhesive_id}/bottles", scope=WORK, shows=row_of(GlueLot), status=201),
)
def add_bottle(call: Change, id: int, asked: BottleAsked) -> Response:
    made = adhesives.add_bottle(call.session, call.who, id, asked)
    return call.answer(row(made), location=f"/api/v1/adhesives/{id}")


@router.post(
    "/bottles/{bottle:int}/empty",
    **way("A bottle is empty", "/shop/bottles/{lot_id}/empty", scope=WORK, shows=row_of(GlueLot)),
)
def empty_bottle(call: Change, bottle: int) -> Response:
    return call.answer(row(adhesives.empty_bottle(call.session, call.who, bottle)))


def _wood(call: Call, one: Species) -> Response:
    return call.answer(row(one, cautions=woods.cautions(one)), marked(_says(one)))


def _adhesive(call: Call, one: Adhesive) -> Response:
    return call.answer(row(one, bottles=rows(adhesives.bottles(call.session, one.id))), marked(_says(one)))


def _says(one: Species | Adhesive) -> dict[str, Any]:
    return one.model_dump(exclude={"id"})
