"""What the shop reckons with: its own settings, the workshop's allowances and minutes, supplies, drills."""

from decimal import Decimal
from typing import Any

from webapp.api.ways import Answer, Call, Way, row, rows
from webapp.models import Shop
from webapp.shop.base import finding
from webapp.shop.costs import rules as costs
from webapp.shop.exchange.exporting import plain
from webapp.shop.people.tokens import Scope
from webapp.shop.settings import rules as shop_settings, tools, workshop
from webapp.shop.settings.rules import ShopAsked
from webapp.shop.settings.tools import DrillAsked
from webapp.shop.settings.workshop import MinutesAsked, SupplyAsked, WorkshopAsked


def shop(call: Call) -> Answer:
    found = finding.find(call.session, Shop, 1, "shop")
    return Answer({name: plain(value) for name, value in shop_settings.as_typed(found).items()}, found.version)


def change_shop(call: Call) -> Answer:
    shop_settings.change_shop(call.session, call.who, call.asked(ShopAsked))
    return shop(call)


def allowances(call: Call) -> Answer:
    """The hourly rate for those alone who may see costs."""
    found = workshop.workshop(call.session)
    said: dict[str, Any] = {name: plain(value) for name, value in workshop.as_typed(found).items()}
    if not costs.may_see(call.who):
        del said["hourly_rate"]
    return Answer(said, found.version)


def change_allowances(call: Call) -> Answer:
    asked = call.asked(WorkshopAsked)
    if not costs.may_see(call.who):
        # Who does not see the rate leaves it as it is.
        asked.hourly_rate = Decimal(workshop.workshop(call.session).hourly_rate)
    workshop.change(call.session, call.who, asked)
    return allowances(call)


def usual_minutes(call: Call) -> Answer:
    return Answer({str(stage): count for stage, count in workshop.minutes(call.session).items()})


def change_minutes(call: Call) -> Answer:
    workshop.change_minutes(call.session, call.who, call.asked(MinutesAsked))
    return usual_minutes(call)


def supplies(call: Call) -> Answer:
    found = workshop.supplies(call.session)
    return Answer(
        {"items": [{"item_id": item.id, "name": item.name, "unit": item.unit, "quantity": q} for item, q in found]}
    )


def set_supply(call: Call) -> Answer:
    workshop.set_supply(call.session, call.who, call.asked(SupplyAsked))
    return supplies(call)


def drills(call: Call) -> Answer:
    return Answer({"items": rows(tools.drills(call.session))})


def add_drill(call: Call) -> Answer:
    return Answer(row(tools.add_drill(call.session, call.who, call.asked(DrillAsked))), location="/api/v1/drills")


def take_down_drill(call: Call) -> Answer:
    tools.take_down_drill(call.session, call.who, call.number("drill"))
    return drills(call)


_SHOP, _PAGE = "/shop/settings", "/shop/workshop"
O, W = Scope.OFFICE, Scope.WORK  # noqa: E741
WAYS = [
    Way(
        "GET",
        "/shop",
        "The shop's settings, humidity and carbon dioxide in percent",
        shop,
        shows="settings",
        does=(_SHOP,),
    ),
    Way("PUT", "/shop", "Change the shop's settings", change_shop, O, ShopAsked, "settings", does=(_SHOP,)),
    Way(
        "GET",
        "/workshop",
        "Allowances for sawing, the seasons' air, the rate",
        allowances,
        shows="workshop_settings",
        does=(_PAGE,),
    ),
    Way("PUT", "/workshop", "Change them", change_allowances, W, WorkshopAsked, "workshop_settings", does=(_PAGE,)),
    Way(
        "GET",
        "/workshop/minutes",
        "Minutes of hand work that each stage usually takes",
        usual_minutes,
        shows="minutes",
        does=(_PAGE,),
    ),
    Way(
        "PUT",
        "/workshop/minutes",
        "Change them",
        change_minutes,
        W,
        MinutesAsked,
        "minutes",
        does=(_PAGE + "/minutes",),
    ),
    Way("GET", "/workshop/supplies", "What goes into one flute", supplies, shows="supply", listed=True, does=(_PAGE,)),
    Way(
        "PUT",
        "/workshop/supplies",
        "Set how much of a lot goes into one flute",
        set_supply,
        W,
        SupplyAsked,
        "supply",
        listed=True,
        does=(_PAGE + "/supplies",),
    ),
    Way("GET", "/drills", "Drill sizes that hang there", drills, shows="drill", listed=True, does=("/shop/drills",)),
    Way("POST", "/drills", "Hang a drill", add_drill, W, DrillAsked, "drill", does=("/shop/drills",)),
    Way(
        "POST",
        "/drills/{drill:int}/take-down",
        "Take a drill down",
        take_down_drill,
        W,
        shows="drill",
        listed=True,
        does=("/shop/drills/{drill_id}/take-down",),
    ),
]
