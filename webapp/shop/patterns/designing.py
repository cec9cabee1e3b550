"""From a form to a designed flute: our fields become the engine's request, its errors become messages at our fields."""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from sqlmodel import Session, col, select

from acoustics.designing.design import Design, DesignRequest, design
from acoustics.designing.proportions import Suggestion, suggest
from acoustics.errors import CannotMeet, InvalidInput
from acoustics.notes.charts import keeps_third_hole_closed
from acoustics.saying import Saying
from webapp.models import Drill, Shop
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.patterns.forms import DesignAsked, SuggestionAsked
from webapp.shop.units import engine_words

# The engine's name of each of our form's fields; any other concerns the form as a whole.
_FIELDS = {
    "key": "key",
    "scale": "scale",
    "holes": "holes",
    "a4": "a4",
    "temperament": "temperament",
    "bore_diameter": "bore",
    "wall": "wall",
    "outside": "outside",
    "window.length": "window_length",
    "window.width": "window_width",
    "window.wall": "window_wall",
    "window.edge_angle": "edge_angle",
    "window.edge_height": "edge_height",
    "third_hole_closed": "third_hole",
    "stub": "stub",
    "limits.reach": "reach",
    "limits.spacing": "spacing_least",
    "limits.spacing[0]": "spacing_least",
    "limits.spacing[1]": "spacing_most",
    "limits.hands_gap": "hands_gap_most",
    "limits.hands_gap[0]": "hands_gap_least",
    "limits.hands_gap[1]": "hands_gap_most",
    "limits.to_window": "to_window",
    "limits.to_foot": "to_foot",
    "limits.diameter": "smallest_hole",
    "limits.diameter[0]": "smallest_hole",
    "limits.diameter[1]": "largest_hole",
    "drills": "drills",
    "second_register_weight": "second_register_weight",
}


@dataclass(frozen=True, slots=True)
class Designed:
    """A design, the request it answers, and what had to give where not all limits could be met."""

    design: Design
    request: dict[str, Any]
    gave: tuple[Saying, ...]
    any_size_would_do: bool = False

    @property
    def warnings(self) -> list[Saying]:
        """Everything the maker should know before cutting wood; limits not met come first."""
        return [*(gave.after("had to give: ") for gave in self.gave), *self.design.warnings]


def design_for(session: Session, asked: DesignAsked) -> Designed:
    """Design a flute with the shop's drills, in the shop's played air. Raises Invalid, with each problem at its field.

    Where no layout meets the limits, the nearest one is returned with what had to give, and whether holes of any size
    instead of the shop's drills would have met them.
    """
    request = request_for(session, asked)
    try:
        wanted = DesignRequest.from_json(request)
        found, gave = _solve(wanted)
        freer = gave and request.get("drills") and not _solve(replace(wanted, racks=()))[1]
    except InvalidInput as error:
        raise Invalid(in_our_words(error)) from error
    return Designed(found, request, gave, bool(freer))


def suggestions(asked: SuggestionAsked) -> list[Suggestion]:
    """Bore, wall, window, flue and chamber usual for a key, each with its reason and source [mm, degrees]."""
    return list(suggest(asked.key, asked.a4, asked.bore, asked.wall).reasons)


def request_for(session: Session, asked: DesignAsked) -> dict[str, Any]:
    """The engine's request for what was typed, as the revision will keep it. Raises Invalid."""
    shop = find(session, Shop, 1, "shop")
    request: dict[str, Any] = {
        "key": asked.key,
        "scale": asked.scale,
        "holes": asked.holes,
        "a4": asked.a4,
        "temperament": asked.temperament,
        "outside": asked.outside,
        "air": {
            "temperature": shop.played_temperature,
            "relative_humidity": shop.played_humidity,
            "co2": shop.played_co2,
        },
    }
    plain = {
        "bore_diameter": asked.bore,
        "wall": asked.wall,
        "stub": asked.stub,
        "second_register_weight": asked.second_register_weight,
    }
    request |= _given(plain)
    if asked.third_hole and keeps_third_hole_closed(asked.scale, asked.holes):
        request["third_hole_closed"] = asked.third_hole == "closed"
    window = {
        "length": asked.window_length,
        "width": asked.window_width,
        "wall": asked.window_wall,
        "edge_angle": asked.edge_angle,
        "edge_height": asked.edge_height,
    }
    if given := _given(window):
        request["window"] = given
    if asked.drills == "any":
        request["drills"] = None
    elif rack := list(session.exec(select(Drill.diameter).order_by(col(Drill.diameter)))):
        request["drills"] = rack
    if limits := _limits(asked, request):
        request["limits"] = limits
    return request


def _limits(asked: DesignAsked, request: dict[str, Any]) -> dict[str, Any]:
    """The limits that were typed; where only one end of a range was typed, the other is the usual one."""
    try:
        usual = DesignRequest.from_json({name: v for name, v in request.items() if name != "drills"}).limits
    except InvalidInput as error:
        raise Invalid(in_our_words(error)) from error
    limits: dict[str, Any] = _given({"reach": asked.reach, "to_window": asked.to_window, "to_foot": asked.to_foot})
    pairs = {
        "spacing": (asked.spacing_least, asked.spacing_most, usual.spacing),
        "diameter": (asked.smallest_hole, asked.largest_hole, usual.diameter),
        "hands_gap": (asked.hands_gap_least, asked.hands_gap_most, usual.hands_gap),
    }
    for name, (least, most, otherwise) in pairs.items():
        if least is None and most is None:
            continue
        # An end typed beyond the usual other end moves that one along with it.
        low = least if least is not None else min(otherwise[0], most if most is not None else otherwise[0])
        high = most if most is not None else max(otherwise[1], low)
        limits[name] = [low, high]
    return limits


def in_our_words(error: InvalidInput) -> dict[str, str]:
    """The engine's error as a message at the field it concerns, or for the form as a whole."""
    field = _FIELDS.get(error.field, "")
    limit = engine_words.in_words(error.limit)
    text = limit[:1].upper() + limit[1:] + "."
    said = engine_words.said(error)
    return {field: text if field else f"{said[:1].upper()}{said[1:]}."}


def _given(values: dict[str, float | None]) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value is not None}


@lru_cache(maxsize=128)
def _solve(request: DesignRequest) -> tuple[Design, tuple[Saying, ...]]:
    """The solution is kept: looking at a design and then saving it solves once. Deterministic, so it is the same."""
    try:
        return design(request), ()
    except CannotMeet as short:
        return short.nearest, tuple(short.gave)
