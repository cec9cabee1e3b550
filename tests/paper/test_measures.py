"""How sizes stand on paper. 1 inch = 25.4 mm exactly (international yard and pound agreement, 1959)."""

from datetime import UTC, date, datetime

import pytest
from hypothesis import given, strategies as st

from webapp.models import Units
from webapp.paper.press import measures
from webapp.shop.units.lengths import parse_length

MINUS = "\N{MINUS SIGN}"


def test_limits_on_a_step_stay_there_and_others_move_inward() -> None:
    assert measures.limits(5.2, 5.7, Units.MM) == "5.2 to 5.7 mm"
    assert measures.limits(5.201, 5.709, Units.MM) == "5.21 to 5.7 mm"
    assert measures.limits(25.4, 50.8, Units.INCH) == '1" to 2"'
    assert measures.limits(None, 5.7, Units.MM) == "at most 5.7 mm"
    assert measures.limits(5.2, None, Units.MM) == "at least 5.2 mm"
    assert measures.limits(None, None, Units.MM) == ""


@given(low=st.floats(0.1, 400), width=st.floats(0.1, 5), units=st.sampled_from(list(Units)))
def test_printed_limits_let_nothing_pass_that_the_limits_refuse(low: float, width: float, units: Units) -> None:
    least, most = measures.limits(low, low + width, units).removesuffix(" mm").split(" to ")
    assert parse_length(least, units) >= low - 1e-4
    assert parse_length(most, units) <= low + width + 1e-4


@pytest.mark.parametrize(
    ("name", "short"), [("Ines Varga", "IV"), ("Tam", "Ta"), ("Ana-Lucia de Sa", "ALD"), ("  ", "")]
)
def test_initials(name: str, short: str) -> None:
    assert measures.initials(name) == short


def test_days_and_moments_are_the_shops_own() -> None:
    assert measures.day(date(2026, 4, 18)) == "18 Apr 2026"
    assert measures.day(None) == ""
    assert measures.moment(datetime(2026, 3, 3, 23, 30, tzinfo=UTC), "Europe/Vienna") == "4 Mar 00:30"


def test_cents_have_a_true_minus_and_no_negative_zero() -> None:
    assert [measures.cents(value) for value in (3.4, -7.6, -0.2)] == ["+3", f"{MINUS}8", "0"]


def test_a_long_text_is_cut_at_a_word_and_says_so() -> None:
    assert measures.shortened("short  and\nsweet", 40) == "short and sweet"
    assert measures.shortened("one two three", 9) == "one two … (the rest is on the order’s page)"
