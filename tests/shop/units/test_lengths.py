"""Lengths as typed and shown. 1 in = 25.4 mm exactly (international inch, 1959; NIST SP 811, appendix B)."""

from fractions import Fraction

import pytest
from hypothesis import given, strategies as st

from webapp.models import Units
from webapp.shop.units.lengths import (
    cut_size,
    parse_length,
    show_cut,
    show_gauge,
    show_least,
    show_length,
    show_most,
    show_moved,
    show_offered,
    show_taken,
)


@pytest.mark.parametrize(
    ("text", "units", "mm"),
    [
        ("5/8", Units.INCH, 15.875),
        ("5/8", Units.MM, 15.875),
        ('1 3/16"', Units.MM, 30.1625),
        ("1-3/16 in", Units.INCH, 30.1625),
        ("15.9 mm", Units.INCH, 15.9),
        ("15,9", Units.MM, 15.9),
        ("0.625 in", Units.MM, 15.875),
        (".5", Units.INCH, 12.7),
        ("2", Units.INCH, 50.8),
        ("1.2 cm", Units.INCH, 12.0),
        ("\N{MINUS SIGN}3 mm", Units.MM, -3.0),
        ("7⁄16 in", Units.MM, 11.1125),
    ],
)
def test_reads_what_people_write(text: str, units: Units, mm: float) -> None:
    assert parse_length(text, units) == mm


@pytest.mark.parametrize(
    "text", ["", "abc", "5/", "/8", "5/0", "1 2 3", "1e9", "nan", "inf", "5 furlongs", "1/2/3", "9" * 400]
)
def test_says_how_to_write_a_length(text: str) -> None:
    with pytest.raises(ValueError, match=r"Write a length|zero below the line"):
        parse_length(text, Units.INCH)


def test_a_length_is_a_fraction_to_1_64_or_thousandths_and_never_has_a_remainder() -> None:
    assert show_length(15.875, Units.INCH) == '5/8"'
    assert show_length(15.9, Units.INCH) == '0.626"'
    assert show_length(409.4, Units.INCH) == '16 1/8"'
    assert show_length(30.1625, Units.INCH) == '1 3/16"'
    assert show_length(15.885, Units.INCH) == '5/8"'
    assert show_length(0.0, Units.INCH) == '0"'
    assert show_length(-25.4, Units.INCH) == '\N{MINUS SIGN}1"'
    assert show_length(15.9, Units.MM) == "15.9 mm"
    assert show_length(300.0, Units.MM) == "300 mm"


def test_a_gauge_reads_thousandths_and_its_limits_are_rounded_inward() -> None:
    assert show_gauge(0.97, Units.INCH) == '0.038"'
    assert (show_least(22.03, Units.INCH), show_most(22.03, Units.INCH)) == ('0.868"', '0.867"')
    assert (show_least(60.0, Units.INCH), show_most(400.0, Units.INCH)) == ('2.363"', '15.748"')
    assert show_most(25.4 * 6, Units.INCH) == '6"'
    assert show_least(22.0, Units.MM) == "22 mm"
    assert show_moved(-0.05, Units.INCH) == '\N{MINUS SIGN}0.0020"'


def test_a_cut_is_said_in_thousandths_and_what_it_takes_off_as_a_fraction() -> None:
    assert show_cut(409.4, Units.INCH) == '16.118"'
    assert show_cut(25.4 * 11 / 32, Units.INCH) == '11/32"'
    assert show_taken(25.4 * 3 / 32 + 0.2, Units.INCH) == '3/32"'
    assert show_taken(0.3, Units.INCH) == '0.011"'
    assert show_taken(0.3, Units.MM) == "0.3 mm"


sizes = st.floats(0.3, 900, allow_nan=False)


@given(sizes, st.floats(0, 2), st.floats(0, 2), st.sampled_from(Units))
def test_what_a_gauge_offers_is_read_back_within_its_limits(mm: float, under: float, over: float, units: Units) -> None:
    low, high = mm - under, mm + over
    assert low - 0.005 <= parse_length(show_offered(mm, units, low, high), units) <= high + 0.005


@given(st.integers(1, 64 * 30))
def test_a_nominal_size_is_offered_and_read_back_as_exactly_what_it_is(sixty_fourths: int) -> None:
    nominal = float(Fraction(254, 640) * sixty_fourths)
    for offered in (show_offered(nominal, Units.INCH), show_length(nominal, Units.INCH, exact=True)):
        assert parse_length(offered, Units.INCH) == nominal
    assert cut_size(nominal, Units.INCH, grows=True) == nominal


@given(sizes, st.booleans(), st.sampled_from(Units))
def test_an_advised_cut_is_offered_as_the_size_it_says_and_takes_no_more_than_meant(
    mm: float, grows: bool, units: Units
) -> None:
    size = cut_size(mm, units, grows)
    assert parse_length(show_length(size, units, exact=True), units) == size
    assert parse_length(show_cut(size, units), units) == pytest.approx(size, abs=1e-9)
    assert -1e-6 <= (mm - size if grows else size - mm) <= 0.0255


@given(st.integers(1, 2_000_000))
def test_a_size_that_was_chosen_in_mm_needs_few_places_in_inches(thousandths: int) -> None:
    mm = thousandths / 1000
    text = show_length(mm, Units.INCH, exact=True)
    assert parse_length(text, Units.INCH) == mm
    assert show_length(3.5, Units.INCH, exact=True) == '0.1378"'


@given(st.floats(0.001, 100).map(lambda inches: round(inches, 5)))
def test_typed_decimals_of_an_inch_mean_what_they_say(inches: float) -> None:
    assert parse_length(f"{inches:.5f}", Units.INCH) == pytest.approx(inches * 25.4, abs=0.00005 * 25.4)


@given(st.floats(-5000, 5000, allow_nan=False).map(lambda mm: round(mm, 9)), st.sampled_from(Units))
def test_a_round_trip_never_changes_a_stored_length(mm: float, units: Units) -> None:
    text = show_length(mm, units, exact=True)
    assert parse_length(text, units) == mm
    assert units is Units.MM or "mm" not in text or abs(mm) < 1e-6


@given(st.text(max_size=60), st.sampled_from(Units))
def test_any_text_is_read_or_refused(text: str, units: Units) -> None:
    try:
        parse_length(text, units)
    except ValueError as error:
        assert str(error)
