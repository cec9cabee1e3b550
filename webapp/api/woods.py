"""Woods with what to watch, adhesives with their times, bottles of glue."""

from typing import Any

from webapp.api.ways import Answer, Call, Way, row, rows
from webapp.models import Adhesive, Species
from webapp.shop.base.finding import find
from webapp.shop.base.marks import marked
from webapp.shop.glue import adhesives
from webapp.shop.glue.adhesives import AdhesiveAsked, BottleAsked
from webapp.shop.people.tokens import Scope
from webapp.shop.wood import species as woods
from webapp.shop.wood.species import WoodAsked


def all_woods(call: Call) -> Answer:
    return Answer({"items": rows(woods.woods(call.session))})


def wood(call: Call) -> Answer:
    return _wood(woods.wood(call.session, call.number("id")))


def add_wood(call: Call) -> Answer:
    made = woods.add_wood(call.session, call.who, call.asked(WoodAsked))
    return Answer(row(made), marked(_says(made)), f"/api/v1/woods/{made.id}")


def change_wood(call: Call) -> Answer:
    call.must_be_as_seen(_says(find(call.session, Species, call.number("id"), "wood", lock=True)))
    return _wood(woods.change_wood(call.session, call.who, call.number("id"), call.asked(WoodAsked)))


def all_adhesives(call: Call) -> Answer:
    return Answer({"items": rows(adhesives.adhesives(call.session))})


def adhesive(call: Call) -> Answer:
    return _adhesive(call, adhesives.adhesive(call.session, call.number("id")))


def add_adhesive(call: Call) -> Answer:
    made = adhesives.add_adhesive(call.session, call.who, call.asked(AdhesiveAsked))
    return Answer(row(made), marked(_says(made)), f"/api/v1/adhesives/{made.id}")


def change_adhesive(call: Call) -> Answer:
    call.must_be_as_seen(_says(find(call.session, Adhesive, call.number("id"), "adhesive", lock=True)))
    made = adhesives.change_adhesive(call.session, call.who, call.number("id"), call.asked(AdhesiveAsked))
    return _adhesive(call, made)


def add_bottle(call: Call) -> Answer:
    made = adhesives.add_bottle(call.session, call.who, call.number("id"), call.asked(BottleAsked))
    return Answer(row(made), location=f"/api/v1/adhesives/{call.number('id')}")


def empty_bottle(call: Call) -> Answer:
    return Answer(row(adhesives.empty_bottle(call.session, call.who, call.number("bottle"))))


def _wood(one: Species) -> Answer:
    return Answer(row(one, cautions=woods.cautions(one)), marked(_says(one)))


def _adhesive(call: Call, one: Adhesive) -> Answer:
    return Answer(row(one, bottles=rows(adhesives.bottles(call.session, one.id))), marked(_says(one)))


def _says(one: Species | Adhesive) -> dict[str, Any]:
    return one.model_dump(exclude={"id"})


_WOOD, _GLUE = "/woods/{id:int}", "/adhesives/{id:int}"
_PAGE, _GLUES = "/stock/woods/{species_id}", "/shop/adhesives/{adhesive_id}"
O, W = Scope.OFFICE, Scope.WORK  # noqa: E741
WAYS = [
    Way("GET", "/woods", "Woods", all_woods, shows="species", listed=True, does=("/stock/woods",)),
    Way("GET", _WOOD, "One wood, with what to watch", wood, shows="species", does=(_PAGE,)),
    Way("POST", "/woods", "Add a wood", add_wood, O, WoodAsked, "species", does=("/stock/woods/new",)),
    Way("PUT", _WOOD, "Change a wood", change_wood, O, WoodAsked, "species", does=(_PAGE,), marked=True),
    Way(
        "GET", "/adhesives", "Adhesives and their times", all_adhesives, shows="adhesive", listed=True, does=("/shop",)
    ),
    Way("GET", _GLUE, "One adhesive, with its bottles", adhesive, shows="adhesive", does=(_GLUES,)),
    Way(
        "POST",
        "/adhesives",
        "Add an adhesive",
        add_adhesive,
        W,
        AdhesiveAsked,
        "adhesive",
        does=("/shop/adhesives/new",),
    ),
    Way("PUT", _GLUE, "Change an adhesive", change_adhesive, W, AdhesiveAsked, "adhesive", does=(_GLUES,), marked=True),
    Way(
        "POST", _GLUE + "/bottles", "Open a bottle", add_bottle, W, BottleAsked, "glue_lot", does=(_GLUES + "/bottles",)
    ),
    Way(
        "POST",
        "/bottles/{bottle:int}/empty",
        "A bottle is empty",
        empty_bottle,
        W,
        shows="glue_lot",
        does=("/shop/bottles/{lot_id}/empty",),
    ),
]
