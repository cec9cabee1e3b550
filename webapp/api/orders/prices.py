"""What prices are built from: rates, markup, tax and rounding; the options on offer; what an order's flutes cost."""

from typing import Any

from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Change, Look
from webapp.api.frame.rows import Exact, listed, maybe, model_from, model_of, row, row_of, rows, said
from webapp.api.frame.ways import OFFICE, way
from webapp.models import FluteOption, Pricing, Role, Stage
from webapp.shop.costs import rules as costs, time_taken
from webapp.shop.costs.rules import BlankCost
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import price_customs, rules as orders
from webapp.shop.orders.price_customs import OptionAsked, PricingAsked

PricesShown = model_of(
    "PricesShown",
    Pricing,
    "id",
    **{f"minutes_{stage}": maybe(int) for stage in Stage},
    **{f"hourly_{stage}": maybe(Exact) for stage in Stage},
)
TookShown = model_from(time_taken.Took, "TookShown")
CostShown = model_from(BlankCost, "CostShown", material=Exact, work=Exact, minutes=int, total=Exact, so_far=Exact)
router = ways.router("prices")


class OptionNow(OptionAsked):
    """An option as it is to be from now on; `version` is the one that was seen."""

    version: int


class PricingNow(PricingAsked):
    """What prices are to be built from; `version` is the one that was seen. What is not given is set to nothing."""

    version: int


@router.get(
    "/prices", **way("Rates, overhead, markup, tax, rounding, deposit, wording", "/shop/prices", shows=PricesShown)
)
def customs(call: Look) -> Response:
    found = price_customs.customs(call.session)
    shown: dict[str, Any] = {name: plain(value) for name, value in found.pricing.model_dump(exclude={"id"}).items()}
    for rate in found.rates:
        shown[f"minutes_{rate.stage}"], shown[f"hourly_{rate.stage}"] = rate.minutes, plain(rate.hourly)
    return call.answer(shown, found.pricing.version)


@router.put("/prices", **way("Change what prices are built from", "/shop/prices", scope=OFFICE, shows=PricesShown))
def change_customs(call: Change, asked: PricingNow) -> Response:
    price_customs.change(call.session, call.who, asked)
    return customs(call)


@router.get(
    "/prices/own-minutes",
    **way(
        "What finished flutes took at each stage: the one in the middle, the middle half, how many",
        "/shop/prices",
        shows=listed(TookShown, supplies=Exact),
    ),
)
def own_minutes(call: Look) -> Response:
    """Beside what prices are calculated with: what the shop's own finished flutes took."""
    items = [said(one) for one in time_taken.taken(call.session).values()]
    return call.answer({"items": items, "supplies": plain(time_taken.supplies_cost(call.session))})


@router.get(
    "/options",
    **way(
        "The options on offer, and those that were", "/shop/options", "/shop/prices", shows=listed(row_of(FluteOption))
    ),
)
def options(call: Look) -> Response:
    return call.answer({"items": rows(price_customs.options(call.session))})


@router.get("/options/{id:int}", **way("One option", "/shop/options/{option_id}", shows=row_of(FluteOption)))
def option(call: Look, id: int) -> Response:
    found = price_customs.option(call.session, id)
    return call.answer(row(found), found.version)


@router.post(
    "/options", **way("Add an option", "/shop/options/new", scope=OFFICE, shows=row_of(FluteOption), status=201)
)
def add_option(call: Change, asked: OptionAsked) -> Response:
    made = price_customs.save_option(call.session, call.who, None, asked)
    call.session.refresh(made)
    return call.answer(row(made), made.version, f"/api/v1/options/{made.id}")


@router.put(
    "/options/{id:int}", **way("Change an option", "/shop/options/{option_id}", scope=OFFICE, shows=row_of(FluteOption))
)
def change_option(call: Change, id: int, asked: OptionNow) -> Response:
    wanted = OptionAsked.model_construct(**asked.model_dump(exclude={"version"}))
    made = price_customs.save_option(call.session, call.who, id, wanted, asked.version)
    call.session.refresh(made)
    return call.answer(row(made), made.version)


@router.get(
    "/orders/{number:int}/costs",
    **way("What an order's blanks cost", "/orders/{number}/costs", shows=listed(CostShown)),
)
def of_order(call: Look, number: int) -> Response:
    """What the order's blanks cost; for owner and office alone."""
    call.who.must(Role.OFFICE)
    order = orders.order_of(call.session, number)
    return call.answer({"items": [shown_cost(one) for one in costs.cost_of_order(call.session, order)]})


def shown_cost(one: BlankCost) -> Any:
    """What a blank costs, line by line."""
    sums = {name: plain(getattr(one, name)) for name in ("material", "work", "minutes", "total", "so_far")}
    return said(one) | sums
