"""What the shop calculates with: its own settings, the workshop's allowances and minutes, supplies, drills."""

from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Change, Look
from webapp.api.frame.rows import Shown, listed, made, model_of, row, row_of, rows
from webapp.api.frame.ways import OFFICE, WORK, way
from webapp.models import Drill, Shop, Workshop
from webapp.shop.base import finding
from webapp.shop.exchange.exporting import plain
from webapp.shop.settings import rules as shop_settings, tools, workshop
from webapp.shop.settings.rules import ShopAsked
from webapp.shop.settings.tools import DrillAsked
from webapp.shop.settings.workshop import USUAL_MINUTES, MinutesAsked, SupplyAsked, WorkshopAsked

# Numbers as they are typed, in the measures that stand beside the fields.
SettingsShown = made(
    "SettingsShown",
    "The shop's settings, as they are typed.",
    **dict.fromkeys(ShopAsked.model_fields, str | int | bool | None),
)
WorkshopShown = model_of(
    "WorkshopShown",
    Workshop,
    "id",
    damp_humidity=str,
    dry_humidity=str,
    indoor_temperature=str,
)
MinutesShown = made("MinutesShown", "Minutes of hand work by stage.", **dict.fromkeys(map(str, USUAL_MINUTES), int))


class SupplyShown(Shown):
    """How much of a lot goes into one flute."""

    item_id: int
    name: str
    unit: str
    quantity: float


router = ways.router("settings")


@router.get(
    "/shop", **way("The shop's settings, humidity and carbon dioxide in percent", "/shop/settings", shows=SettingsShown)
)
def shop(call: Look) -> Response:
    found = finding.find(call.session, Shop, 1, "shop")
    return call.answer({name: plain(value) for name, value in shop_settings.as_typed(found).items()}, found.version)


@router.put("/shop", **way("Change the shop's settings", "/shop/settings", scope=OFFICE, shows=SettingsShown))
def change_shop(call: Change, asked: ShopAsked) -> Response:
    shop_settings.change_shop(call.session, call.who, asked)
    return shop(call)


@router.get(
    "/workshop",
    **way("Allowances for sawing, the seasons' air, the rate", "/shop/workshop", shows=WorkshopShown),
)
def allowances(call: Look) -> Response:
    """The hourly rate for those alone who may see costs."""
    found = workshop.workshop(call.session)
    said = {name: plain(value) for name, value in workshop.as_seen(found, call.who).items()}
    return call.answer(said, found.version)


@router.put("/workshop", **way("Change them", "/shop/workshop", scope=WORK, shows=WorkshopShown))
def change_allowances(call: Change, asked: WorkshopAsked) -> Response:
    workshop.change(call.session, call.who, asked)
    return allowances(call)


@router.get(
    "/workshop/minutes",
    **way("Minutes of hand work that each stage usually takes", "/shop/workshop", shows=MinutesShown),
)
def usual_minutes(call: Look) -> Response:
    return call.answer({str(stage): count for stage, count in workshop.minutes(call.session).items()})


@router.put("/workshop/minutes", **way("Change them", "/shop/workshop/minutes", scope=WORK, shows=MinutesShown))
def change_minutes(call: Change, asked: MinutesAsked) -> Response:
    workshop.change_minutes(call.session, call.who, asked)
    return usual_minutes(call)


@router.get("/workshop/supplies", **way("What goes into one flute", "/shop/workshop", shows=listed(SupplyShown)))
def supplies(call: Look) -> Response:
    found = workshop.supplies(call.session)
    return call.answer(
        {"items": [{"item_id": item.id, "name": item.name, "unit": item.unit, "quantity": q} for item, q in found]}
    )


@router.put(
    "/workshop/supplies",
    **way(
        "Set how much of a lot goes into one flute", "/shop/workshop/supplies", scope=WORK, shows=listed(SupplyShown)
    ),
)
def set_supply(call: Change, asked: SupplyAsked) -> Response:
    workshop.set_supply(call.session, call.who, asked)
    return supplies(call)


@router.get("/drills", **way("Drill sizes that hang there", "/shop/drills", shows=listed(row_of(Drill))))
def drills(call: Look) -> Response:
    return call.answer({"items": rows(tools.drills(call.session))})


@router.post("/drills", **way("Hang a drill", "/shop/drills", scope=WORK, shows=row_of(Drill), status=201))
def add_drill(call: Change, asked: DrillAsked) -> Response:
    return call.answer(row(tools.add_drill(call.session, call.who, asked)), location="/api/v1/drills")


@router.post(
    "/drills/{drill:int}/take-down",
    **way("Take a drill down", "/shop/drills/{drill_id}/take-down", scope=WORK, shows=listed(row_of(Drill))),
)
def take_down_drill(call: Change, drill: int) -> Response:
    tools.take_down_drill(call.session, call.who, drill)
    return drills(call)
