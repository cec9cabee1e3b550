"""Temperatures as typed and shown. t/°F = 1.8 t/°C + 32 exactly (NIST SP 811, appendix B.8)."""

import pytest
from hypothesis import given, strategies as st
from pydantic import BaseModel, ValidationError

from webapp.models import Degrees
from webapp.shop.units.temperatures import Temperature, parse_temperature, show_temperature, show_warmer


@pytest.mark.parametrize(
    ("typed", "degrees"),
    [("20", 20), ("20.5 C", 20.5), ("68 F", 20), ("68°F", 20), ("18,5", 18.5), ("-4", -4), ("21 °C", 21)],
)
def test_a_temperature_is_typed_in_either_scale(typed: str, degrees: float) -> None:
    assert parse_temperature(typed) == pytest.approx(degrees)


def test_without_a_letter_it_is_in_the_persons_own_degrees() -> None:
    assert parse_temperature("68", Degrees.F) == 20
    assert parse_temperature("20 C", Degrees.F) == 20


@pytest.mark.parametrize("typed", ["", "warm", "nan", "inf", "20 K", "1e3", "20 20"])
@pytest.mark.parametrize("degrees", Degrees)
def test_what_is_no_temperature_is_refused(typed: str, degrees: Degrees) -> None:
    with pytest.raises(ValueError, match="Write a temperature"):
        parse_temperature(typed, degrees)


def test_it_is_shown_in_the_persons_own_degrees() -> None:
    assert show_temperature(20, Degrees.F) == "68 °F"
    assert show_temperature(19.9, Degrees.C) == "19.9 °C"
    assert show_temperature(-40, Degrees.F) == "\N{MINUS SIGN}40 °F"
    assert show_warmer(2, Degrees.F) == "3.6 °F"


@given(st.integers(0, 4500).map(lambda hundredths: hundredths / 100), st.sampled_from(Degrees))
def test_a_stored_temperature_comes_back_as_it_was(celsius: float, degrees: Degrees) -> None:
    assert parse_temperature(show_temperature(celsius, degrees, None), degrees) == celsius


def test_limits_are_said_in_the_persons_own_degrees() -> None:
    class Room(BaseModel):
        temperature: Temperature

    with pytest.raises(ValidationError, match="between 32 °F and 113 °F"):
        Room.model_validate({"temperature": "120"}, context={"degrees": Degrees.F})
