"""The air in a flute while it is read, and what it does to the pitch.

Targets are meant for the shop's played air: the mean in a flute that is warm and breathed into. No measured mean for
a two-chamber flute is published, so the shop states its own (24 degrees C, 90 %, 3 % carbon dioxide to begin with),
for its usual room. In another room the played air shifts by the share of room air and room warmth in it; a flute
that was not warmed up is at the room's temperature. That is a first-order assumption of ours (no published source).
"""

import math
from typing import Annotated

from pydantic import Field

from acoustics.model.air import Air
from webapp.models import Shop

# Breath as it leaves the mouth: about 34 degrees C and 4 % carbon dioxide (physiology textbooks, from memory).
BREATH_TEMPERATURE = 34.0
BREATH_CO2 = 0.04

# Form field: humidity in percent.
HumidityPercent = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]


def played(shop: Shop) -> Air:
    """The air that targets are meant for."""
    return Air.moist(shop.played_temperature, shop.played_humidity, shop.played_co2)


def at_the_bench(shop: Shop, temperature: float, humidity: float, warmed_up: bool) -> Air:
    """The air in a flute read in a room of this temperature [degrees C] and relative humidity (0 to 1)."""
    span = BREATH_TEMPERATURE - shop.bench_temperature
    warmth = min(1.0, max(0.0, (shop.played_temperature - shop.bench_temperature) / span)) if span > 0 else 0.0
    breath = min(1.0, shop.played_co2 / BREATH_CO2)
    inside = shop.played_temperature + (1 - warmth) * (temperature - shop.bench_temperature)
    if not warmed_up:
        inside = temperature
    moisture = shop.played_humidity + (1 - breath) * (humidity - shop.bench_humidity)
    return Air.moist(min(45.0, max(0.0, inside)), min(1.0, max(0.0, moisture)), shop.played_co2)


def correction(shop: Shop, temperature: float, humidity: float, warmed_up: bool) -> float:
    """Cents to add to a pitch read at the bench, to have it as in the played air.

    1200 log2(c played / c at the bench): every resonance of a cavity of fixed shape is proportional to the speed of
    sound, by the wave equation; losses, which change a little with the air too, are worth less than a cent here.
    """
    there = at_the_bench(shop, temperature, humidity, warmed_up)
    return 1200.0 * math.log2(played(shop).speed_of_sound / there.speed_of_sound)
