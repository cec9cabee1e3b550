"""Lengths as typed and shown. 1 in = 25.4 mm exactly (international inch, 1959; NIST SP 811, appendix B)."""

import pytest
from hypothesis import given, strategies as st

from webapp.models import Units
from webapp.shop.units.lengths import parse_length, show_length, speak_length


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


def test_shows_sixty_fourths_with_the_remainder_where_it_matters() -> None:
    assert show_length(15.875, Units.INCH) == '5/8"'
    assert show_length(15.9, Units.INCH) == '5/8" + 0.03 mm'
    assert show_length(30.1625, Units.INCH) == '1 3/16"'
    assert show_length(15.885, Units.INCH) == '5/8"'
    assert show_length(0.0, Units.INCH) == '0"'
    assert show_length(-25.4, Units.INCH) == '\N{MINUS SIGN}1"'
    assert show_length(15.9, Units.MM) == "15.9 mm"
    assert show_length(300.0, Units.MM) == "300 mm"


@given(st.floats(-5000, 5000, allow_nan=False).map(lambda mm: round(mm, 9)), st.sampled_from(Units))
def test_a_round_trip_never_changes_a_stored_length(mm: float, units: Units) -> None:
    assert parse_length(show_length(mm, units, exact=True), units) == mm


@given(st.text(max_size=60), st.sampled_from(Units))
def test_any_text_is_read_or_refused(text: str, units: Units) -> None:
    try:
        parse_length(text, units)
    except ValueError as error:
        assert str(error)


def test_within_a_sentence_a_length_is_as_it_is_measured_or_has_a_decimal_point() -> None:
    assert speak_length(15.875, Units.INCH) == '5/8"'
    assert speak_length(15.2, Units.INCH) == "0.60 in"
    assert speak_length(-15.2, Units.INCH) == "\N{MINUS SIGN}0.60 in"
    assert speak_length(15.2, Units.MM) == "15.2 mm"
