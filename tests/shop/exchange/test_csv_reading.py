"""Which delimiter a table has is told by its row of headings."""

import pytest

from webapp.shop.exchange.csv_reading import sniffed


@pytest.mark.parametrize(
    ("headings", "delimiter"),
    [
        ("name,wood,price", ","),
        ("wood, kind;price;wood, sort;lot", ";"),  # what csv.Sniffer takes for commas
        ("name\tnote, long\tlot", "\t"),
        ('"note, long";lot', ";"),
        ("maker's mark|owner's name", "|"),
        ("serial", ","),
    ],
)
def test_the_delimiter_is_that_of_most_headings(headings: str, delimiter: str) -> None:
    assert sniffed(f"\n{headings}\r\n1;2,3,4,5\n") == delimiter
