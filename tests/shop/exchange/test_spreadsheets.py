"""Every table that leaves the shop, opened in a spreadsheet: no cell is a formula, whoever typed it.

Source of the signs: OWASP's page on CSV injection (from memory: = + - @, tab, carriage return, line feed, and the signs
of full width).
"""

import csv
import io
import zipfile

import pytest
from fastapi.testclient import TestClient

from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Adhesive, Customer, Pattern, Species
from webapp.shop.base.spreadsheets import as_typed, harmless
from webapp.shop.exchange.csv_reading import table

SIGNS = ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"]
BAD = [f"{sign}cmd|' /C calc'!A0" for sign in SIGNS] + [" =1+1", "  ＝1"]


@pytest.mark.parametrize("text", BAD)
def test_what_a_spreadsheet_would_carry_out_is_made_harmless(text: str) -> None:
    assert harmless(text) == f"'{text}"
    assert as_typed(f"'{text}") == text


@pytest.mark.parametrize("text", ["", "Ada", "2-part", "a@b.invalid", "'quoted", "x=1"])
def test_other_text_stays_as_it_is(text: str) -> None:
    assert harmless(text) == as_typed(text) == text


def test_a_guarded_cell_is_read_as_it_was_typed() -> None:
    read = table("name,note\nA,'＝1\nB,'=1\nC,'plain\n", {"name": ("name",), "note": ("note",)}, ("name",))
    assert [line.cells["note"] for line in read.lines] == ["＝1", "=1", "'plain"]


def test_no_table_that_leaves_the_shop_has_a_formula(client: TestClient, open_shop: OpenShop) -> None:
    for text in (BAD[0], BAD[6], BAD[7], BAD[-1]):
        with open_shop.database.write() as session:
            if text == BAD[0]:
                made.opened(session, open_shop.maker, flute_id=made.order(session))
            for model in (Customer, Species, Adhesive, Pattern):
                session.get_one(model, 1).name = text  # type: ignore[attr-defined]
            session.get_one(Customer, 1).note = text
        tables = {one: client.get(one).text for one in ("/payments.csv", "/patterns/1/1/dimensions.csv")}
        with zipfile.ZipFile(io.BytesIO(client.get("/export/tables.zip").content)) as exported:
            tables |= {one: exported.read(one).decode() for one in exported.namelist() if one.endswith(".csv")}
        assert len(tables) > 30
        seen = 0
        for name, content in tables.items():
            for row in csv.reader(io.StringIO(content, newline="")):
                for one in row:
                    seen += one == f"'{text}"
                    assert not one.lstrip(" ").startswith(tuple(SIGNS)) or _is_number(one), (name, one)
        assert seen >= 5, text


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
