"""Numbers of other countries, read by one reader for forms and tables, and written for their spreadsheets."""

import csv
from decimal import Decimal
from io import StringIO
from typing import Annotated

import pytest
from pydantic import BaseModel, Field

from webapp.models import Units
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid
from webapp.shop.base.spreadsheets import as_typed, harmless, written
from webapp.shop.units.lengths import Length
from webapp.shop.units.numbers import plain_number


@pytest.mark.parametrize(
    ("typed", "plain"),
    [
        ("1.234,50", "1234.50"),
        ("1,234.50", "1234.50"),
        ("1,234,567", "1234567"),
        ("4,5", "4.5"),
        ("0,125", "0.125"),
        ("4.5", "4.5"),
        ("$ 9", "9"),
        ("1 000", "1000"),
        ("\N{MINUS SIGN}3", "-3"),
    ],
)
def test_numbers_of_other_countries(typed: str, plain: str) -> None:
    assert plain_number(typed) == plain


@pytest.mark.parametrize("typed", ["", "abc", "12 mm", "1,2,x", "--3", "9" * 60])
def test_what_is_no_number_is_left_for_the_field_to_refuse(typed: str) -> None:
    assert plain_number(typed) == typed


class Typed(BaseModel):
    price: Annotated[Decimal, Field(ge=0, max_digits=11, decimal_places=2)]
    quantity: Annotated[float, Field(gt=0)] | None = None
    size: Annotated[Length, Field(gt=0)] | None = None
    name: str = ""
    count: int = 1


def test_a_form_reads_decimal_commas_in_every_number_and_in_nothing_else() -> None:
    read = Form({"price": "12,50", "quantity": "7,8", "size": "1,5", "name": "1,5", "count": "3"}).read(Typed, Units.MM)
    assert (read.price, read.quantity, read.size, read.name, read.count) == (Decimal("12.50"), 7.8, 1.5, "1,5", 3)


def test_a_number_that_can_be_read_two_ways_is_asked_about() -> None:
    with pytest.raises(Invalid) as refused:
        Form({"price": "12", "quantity": "1,250"}).read(Typed)
    assert refused.value.errors == {"quantity": "Can be read two ways: write 1250 or 1.2500."}


def test_a_table_for_a_country_with_commas_reads_as_numbers_there() -> None:
    text = written([["size", "cost"], [1.5, Decimal("0.30")], ["a; b", 3]], comma=True)
    assert list(csv.reader(StringIO(text), delimiter=";")) == [["size", "cost"], ["1,5", "0,30"], ["a; b", "3"]]
    assert written([[1.5, True]]) == "1.5,True\r\n"


@pytest.mark.parametrize("phone", ["+49 30 901820", "+1 (555) 0171", "+44 20 7946 0018"])
def test_a_telephone_number_has_no_apostrophe(phone: str) -> None:
    assert harmless(phone) == phone


def test_hyphens_of_a_telephone_number_are_no_sum_and_come_back() -> None:
    assert harmless("+1-555-0171") == "+1\N{NON-BREAKING HYPHEN}555\N{NON-BREAKING HYPHEN}0171"
    assert as_typed(harmless("+1-555-0171")) == "+1-555-0171"
    assert harmless("+1-555+cmd") == "'+1-555+cmd"
