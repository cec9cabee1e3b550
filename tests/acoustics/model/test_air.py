"""Air against published formulas and against CoolProp."""

import math

import pytest
from CoolProp.HumidAirProp import HAPropsSI

from acoustics.errors import InvalidInput
from acoustics.model.air import PLAYED_FLUTE, Air, saturation_pressure, water_fraction


def cramer(t: float, h: float, xc: float, p: float = 101325.0) -> float:
    """Cramer 1993, J. Acoust. Soc. Am. 93, 2510, eq. 15 and table III (a8 from memory)."""
    xw = water_fraction(t, h, p)
    a = (331.5024, 0.603055, -0.000528, 51.471935, 0.1495874, -0.000782, -1.82e-7, 3.73e-8, -2.93e-10)
    b = (-85.20931, -0.228525, 5.91e-5, -2.835149, -2.15e-13, 29.179762, 0.000486)
    return (
        a[0] + a[1] * t + a[2] * t**2 + (a[3] + a[4] * t + a[5] * t**2) * xw + (a[6] + a[7] * t + a[8] * t**2) * p
        + (b[0] + b[1] * t + b[2] * t**2) * xc + b[3] * xw**2 + b[4] * p**2 + b[5] * xc**2 + b[6] * xw * p * xc
    )  # fmt: skip


@pytest.mark.parametrize("t", [0.0, 10.0, 20.0, 30.0])
@pytest.mark.parametrize("h", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("xc", [0.0004, 0.01])
def test_speed_of_sound_is_cramers_within_its_own_uncertainty(t, h, xc):
    """Stated uncertainty of Cramer's equation: 300 parts per million, half a cent."""
    assert Air.moist(t, h, xc).speed_of_sound == pytest.approx(cramer(t, h, xc), rel=3e-4)


def test_speed_of_sound_in_dry_air_is_that_of_iso_9613():
    """ISO 9613-1:1993: 343.2 m/s sqrt(T / 293.15 K), itself rounded to 0.1 m/s (from memory)."""
    assert Air.moist(20.0, 0.0, 0.0004).speed_of_sound == pytest.approx(343.2, abs=0.2)


@pytest.mark.parametrize(("t", "h"), [(20.0, 0.0), (20.0, 0.5), (26.0, 1.0), (30.0, 1.0), (37.0, 1.0)])
def test_moist_air_agrees_with_coolprop(t, h):
    """CoolProp 8 HumidAirProp (ASHRAE RP-1485); its air carries no carbon dioxide of its own."""
    given = ("T", t + 273.15, "P", 101325.0, "R", h)
    air = Air.moist(t, h, 0.0004)
    mu, k = HAPropsSI("mu", *given), HAPropsSI("k", *given)
    cp, cv = HAPropsSI("cp_ha", *given), HAPropsSI("cv_ha", *given)
    assert air.density == pytest.approx(1.0 / HAPropsSI("Vha", *given), rel=2e-4)
    assert air.viscosity == pytest.approx(mu, rel=0.015)
    assert air.prandtl == pytest.approx(mu * cp / k, rel=0.02)
    assert air.gamma == pytest.approx(cp / cv, rel=1.5e-3)


@pytest.mark.parametrize(("t", "pressure"), [(0.01, 611.657), (20.0, 2339.3), (30.0, 4246.9)])
def test_saturation_pressure_is_that_of_the_steam_tables(t, pressure):
    """IAPWS-95 saturation pressures [Pa] (from memory)."""
    assert saturation_pressure(t) == pytest.approx(pressure, rel=1e-3)


def test_density_follows_the_short_formula_of_oiml_r111():
    """OIML R 111-1:2004, eq. E.3-1: better than 2e-4 near 20 degrees C at ordinary carbon dioxide (from memory)."""
    p, h, t = 1013.25, 50.0, 20.0
    rho = (0.34848 * p - 0.009 * h * math.exp(0.061 * t)) / (273.15 + t)
    assert Air.moist(t, 0.5, 0.0004).density == pytest.approx(rho, rel=2e-4)


def test_breath_slows_sound_as_measured_lectures_say():
    """About -4.5 cents for each per cent of carbon dioxide (Fuks 1998, KTH thesis, second hand)."""
    step = Air.moist(26, 1, 0.04).speed_of_sound / Air.moist(26, 1, 0.03).speed_of_sound
    assert 1200 * math.log2(step) == pytest.approx(-4.45, abs=0.15)


def test_two_degrees_are_six_cents_and_the_vapour_they_bring_makes_them_nearly_seven():
    """Ideal gas: c goes as the root of T. At constant relative humidity warmer air also holds more, lighter, vapour."""
    dry = Air.moist(26, 0.0).speed_of_sound / Air.moist(24, 0.0).speed_of_sound
    assert 1200 * math.log2(dry) == pytest.approx(600 * math.log2(299.15 / 297.15), abs=0.1)
    moist = Air.moist(26).speed_of_sound / PLAYED_FLUTE.speed_of_sound
    assert 1200 * math.log2(moist) == pytest.approx(6.7, abs=0.2)


def test_json_round_trip():
    assert Air.from_json(PLAYED_FLUTE.to_json()) == PLAYED_FLUTE
    assert Air.from_json({}) == PLAYED_FLUTE
    assert Air.from_json({"temperature": 20, "relative_humidity": 0.5, "co2": 0.0004}) == Air.moist(20, 0.5, 0.0004)


@pytest.mark.parametrize(
    ("document", "field"),
    [
        ({"temperature": 99}, "air.temperature"),
        ({"temperature": float("nan")}, "air.temperature"),
        ({"relative_humidity": 50}, "air.relative_humidity"),
        ({"co2": "much"}, "air.co2"),
        ({"speed_of_sound": 343.2}, "air.density"),
        ({"speed_of_sound": 343.2, "density": 1.2, "temperature": 20}, "air.temperature"),
        ({"speed_of_sound": 1.0, "density": 1.2}, "air.speed_of_sound"),
        ([], "air"),
        ({"colour": 1}, "air.colour"),
    ],
)
def test_bad_air_is_refused_by_field(document, field):
    with pytest.raises(InvalidInput) as refused:
        Air.from_json(document)
    assert refused.value.field == field
    assert str(refused.value).startswith(field)
