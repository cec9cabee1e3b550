"""Dimensions as rows and as CSV, read back with the standard library."""

import csv
from io import StringIO

import pytest

from tests.blanks import FLUTE
from webapp.shop.patterns.dimension_table import as_csv, rows


def test_every_dimension_stands_in_the_table_as_the_flute_has_it() -> None:
    found = {row.place: row.value for row in rows(FLUTE)}
    assert found["finger hole 3", "at"] == FLUTE.holes[2].x
    assert found["finger hole 6", "diameter"] == FLUTE.holes[5].diameter
    assert found["foot", "at"] == FLUTE.foot_x
    assert found["plug", "face at"] == FLUTE.plug_x
    assert found["window", "wall"] == 3.6
    assert found["splitting edge", "angle"] == 30.0
    assert len(found) == len(rows(FLUTE)), "each place once"


def test_the_csv_says_the_same_in_mm_and_in_inches() -> None:
    lines = list(csv.DictReader(StringIO(as_csv(FLUTE, "A4 to test with", 2))))
    assert len(lines) == len(rows(FLUTE))
    for line, row in zip(lines, rows(FLUTE), strict=True):
        if row.unit == "degrees":
            assert (line["mm"], float(line["degrees"])) == ("", row.value)
            continue
        assert float(line["mm"]) == pytest.approx(row.value, abs=1e-9)
        # 25.4 mm to the inch: ISO 80000-3.
        assert float(line["inch"]) * 25.4 == pytest.approx(row.value, abs=1e-3)
    assert {line["revision"] for line in lines} == {"2"}


@pytest.mark.parametrize("name", ['=HYPERLINK("http://x")', "+1+1", "-2+3", "@SUM(A1)", "\t=1", " =1", '=1,"2'])
def test_no_name_becomes_a_formula(name: str) -> None:
    """The beginnings that the OWASP page on CSV injection lists."""
    for line in csv.reader(StringIO(as_csv(FLUTE, name, 1))):
        for cell in line:
            number = cell.replace("-", "", 1).replace(".", "", 1).isdigit()
            assert number or not cell.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r"))
    again = list(csv.DictReader(StringIO(as_csv(FLUTE, name, 1))))
    assert again[0]["pattern"] == f"'{name}"
