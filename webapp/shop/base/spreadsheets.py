"""Cells for spreadsheets, which take some texts for formulas and would carry out what a customer typed as a name."""

import csv
import re
from collections.abc import Iterable, Sequence
from decimal import Decimal
from io import StringIO
from typing import Any

# A telephone number has nothing that could be carried out; its hyphens are written so that they are no sums either.
_TELEPHONE = re.compile(r"\+\d[\d ().\-\u2011]{4,28}")
_HYPHEN, _NO_MINUS = "-", "\N{NON-BREAKING HYPHEN}"
# OWASP, CSV Injection: the signs, those of full width that some programs take for them, and what begins a new line.
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def harmless(text: str) -> str:
    """A text that no spreadsheet takes for a formula: an apostrophe before what looks like one.

    A telephone number stays without: +49 30 0171.
    """
    if _TELEPHONE.fullmatch(text):
        return text.replace(_HYPHEN, _NO_MINUS)
    return f"'{text}" if text.lstrip(" ").startswith(FORMULA) else text


def as_typed(text: str) -> str:
    """The text of a cell that was made harmless, here or elsewhere."""
    if _TELEPHONE.fullmatch(text):
        return text.replace(_NO_MINUS, _HYPHEN)
    return text[1:] if text.startswith("'") and text[1:].lstrip(" ").startswith(FORMULA) else text


def written(rows: Iterable[Sequence[Any]], comma: bool = False) -> str:
    """A table as CSV (RFC 4180). `comma`: for a spreadsheet of a country that writes 1,5, where cells are parted by
    semicolons and decimals by a comma; texts are to be harmless already.
    """
    out = StringIO()
    csv.writer(out, delimiter=";" if comma else ",").writerows([[number(cell, comma) for cell in row] for row in rows])
    return out.getvalue()


def number(value: Any, comma: bool) -> Any:
    """A number as such a spreadsheet reads it; anything else as it is."""
    if not comma or isinstance(value, bool) or not isinstance(value, float | Decimal):
        return value
    return str(value).replace(".", ",")
