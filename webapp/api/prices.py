"""What prices are built from: rates, markup, tax and rounding; the options on offer; what an order's flutes cost."""

from dataclasses import asdict
from typing import Any

from webapp.api.ways import Answer, Call, Way, row, rows
from webapp.models import Role
from webapp.shop.costs import rules as costs, time_taken
from webapp.shop.costs.rules import BlankCost
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import price_customs, rules as orders
from webapp.shop.orders.price_customs import OptionAsked, PricingAsked
from webapp.shop.people.tokens import Scope


class OptionNow(OptionAsked):
    """An option as it shall be from now on; `version` is the one that was seen."""

    version: int


class PricingNow(PricingAsked):
    """What prices shall be built from; `version` is the one that was seen. What is not given is set to nothing."""

    version: int


def customs(call: Call) -> Answer:
    found = price_customs.customs(call.session)
    said: dict[str, Any] = {name: plain(value) for name, value in found.pricing.model_dump(exclude={"id"}).items()}
    for rate in found.rates:
        said[f"minutes_{rate.stage}"], said[f"hourly_{rate.stage}"] = rate.minutes, plain(rate.hourly)
    return Answer(said, found.pricing.version)


def change_customs(call: Call) -> Answer:
    price_customs.change(call.session, call.who, call.asked(PricingNow))
    return customs(call)


def own_minutes(call: Call) -> Answer:
    """Beside what prices are reckoned with: what the shop's own finished flutes took."""
    items = [asdict(one) for one in time_taken.taken(call.session).values()]
    return Answer({"items": items, "supplies": plain(time_taken.supplies_cost(call.session))})


def options(call: Call) -> Answer:
    return Answer({"items": rows(price_customs.options(call.session))})


def option(call: Call) -> Answer:
    found = price_customs.option(call.session, call.number("id"))
    return Answer(row(found), found.version)


def add_option(call: Call) -> Answer:
    made = price_customs.save_option(call.session, call.who, None, call.asked(OptionAsked))
    call.session.refresh(made)
    return Answer(row(made), made.version, f"/api/v1/options/{made.id}")


def change_option(call: Call) -> Answer:
    asked = call.asked(OptionNow)
    wanted = OptionAsked.model_construct(**asked.model_dump(exclude={"version"}))
    made = price_customs.save_option(call.session, call.who, call.number("id"), wanted, asked.version)
    call.session.refresh(made)
    return Answer(row(made), made.version)


def of_order(call: Call) -> Answer:
    """What the order's blanks cost; for owner and office alone."""
    call.who.must(Role.OFFICE)
    order = orders.order_of(call.session, call.number("number"))
    return Answer({"items": [shown_cost(one) for one in costs.cost_of_order(call.session, order)]})


def shown_cost(one: BlankCost) -> dict[str, Any]:
    """What a blank costs, line by line."""

    def said(lines: Any) -> list[dict[str, Any]]:
        return [{name: plain(value) for name, value in asdict(line).items()} for line in lines]

    sums = {name: plain(getattr(one, name)) for name in ("material", "work", "minutes", "total", "so_far")}
    return {"serial": one.serial, **sums, "materials": said(one.materials), "time": said(one.time)}


_OPTION = "/options/{id:int}"
_PAGE = "/shop/options/{option_id}"
O = Scope.OFFICE  # noqa: E741
WAYS = [
    Way(
        "GET",
        "/prices",
        "Rates, overhead, markup, tax, rounding, deposit, wording",
        customs,
        shows="prices",
        does=("/shop/prices",),
    ),
    Way(
        "PUT",
        "/prices",
        "Change what prices are built from",
        change_customs,
        O,
        PricingNow,
        "prices",
        does=("/shop/prices",),
    ),
    Way(
        "GET",
        "/prices/own-minutes",
        "What finished flutes took at each stage: the one in the middle, the middle half, how many",
        own_minutes,
        shows="took",
        listed=True,
        does=("/shop/prices",),
    ),
    Way(
        "GET",
        "/options",
        "The options on offer, and those that were",
        options,
        shows="flute_option",
        listed=True,
        does=("/shop/options", "/shop/prices"),
    ),
    Way("GET", _OPTION, "One option", option, shows="flute_option", does=(_PAGE,)),
    Way("POST", "/options", "Add an option", add_option, O, OptionAsked, "flute_option", does=("/shop/options/new",)),
    Way("PUT", _OPTION, "Change an option", change_option, O, OptionNow, "flute_option", does=(_PAGE,)),
    Way(
        "GET",
        "/orders/{number:int}/costs",
        "What an order's blanks cost",
        of_order,
        shows="cost",
        listed=True,
        does=("/orders/{number}/costs",),
    ),
]
