"""What the room's air does to a reading."""

import math

import pytest

from acoustics.model.air import Air
from webapp.models import Shop
from webapp.shop.settings import air

SHOP = Shop(name="Alder Lane Flutes")


def test_a_warm_flute_in_the_shops_usual_room_needs_no_correction() -> None:
    assert air.correction(SHOP, SHOP.bench_temperature, SHOP.bench_humidity, warmed_up=True) == pytest.approx(
        0, abs=1e-9
    )


def test_a_cold_flute_reads_flat_and_is_corrected_upward() -> None:
    # By hand, for an ideal gas (any textbook): the speed of sound goes with the root of the temperature in kelvin
    # and against the square root of the molar mass. Air at 90 % holds less vapour when it is colder: saturation is at
    # 2985 Pa at 24 degrees C and 2339 Pa at 20 (steam tables, from memory), vapour weighs 18, this air 29 g/mol.
    warmth = 600 * math.log2((273.15 + 24) / (273.15 + 20))
    moisture = 600 * math.log2(1 + 0.9 * (2985 - 2339) / 101325 * (29 - 18) / 29)
    assert (warmth, moisture) == (pytest.approx(11.7, abs=0.1), pytest.approx(1.9, abs=0.1))
    assert air.correction(SHOP, 20, 0.5, warmed_up=False) == pytest.approx(warmth + moisture, abs=0.5)


def test_a_colder_room_reaches_a_warm_flute_in_part() -> None:
    warm, cold = (air.correction(SHOP, 10, 0.5, warmed) for warmed in (True, False))
    assert 0 < warm < cold
    # Its air shifts by the room's share of its warmth: (34 - 24) / (34 - 20) of the 10 degrees.
    inside = air.at_the_bench(SHOP, 10, 0.5, True)
    expected = Air.moist(24 - 10 * (34 - 24) / (34 - 20), 0.9, 0.03)
    assert inside.speed_of_sound == pytest.approx(expected.speed_of_sound)


def test_dry_air_is_slower_by_the_rooms_share_of_the_moisture() -> None:
    assert 0 < air.correction(SHOP, 20, 0.1, True) < 1.5


@pytest.mark.parametrize("temperature", [0, 45])
@pytest.mark.parametrize("humidity", [0, 1])
@pytest.mark.parametrize("warmed_up", [True, False])
def test_the_ends_of_what_may_be_typed_give_a_finite_answer(
    temperature: float, humidity: float, warmed_up: bool
) -> None:
    assert math.isfinite(air.correction(SHOP, temperature, humidity, warmed_up))


def test_a_shop_that_states_a_room_as_warm_as_breath_gets_an_answer() -> None:
    odd = Shop(name="Sauna", bench_temperature=36, played_temperature=36)
    assert math.isfinite(air.correction(odd, 36, 0.5, True))
