"""Tables of other programs, read with as little fuss as possible: bytes to text, text to rows by their headings."""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from webapp.models.folding import folded
from webapp.shop.base.errors import Invalid
from webapp.shop.base.spreadsheets import as_typed

LARGEST: Final = 900_000
"""Bytes of a file."""
MOST_ROWS: Final = 2_000
MOST_COLUMNS: Final = 80
LONGEST_CELL: Final = 4_000
DELIMITERS: Final = ",;\t|"


@dataclass(frozen=True, slots=True)
class Line:
    """One row: the line of the file on which it begins, and its cells by the names of their columns."""

    number: int
    cells: dict[str, str]


@dataclass(frozen=True, slots=True)
class Table:
    """What was read, how, and which headings meant nothing to us."""

    lines: list[Line]
    delimiter: str
    unknown: list[str]


def decoded(data: bytes) -> str:
    """The text of a file: UTF-8 (with or without its mark) or UTF-16 with a mark, else Windows-1252. Raises Invalid."""
    if len(data) > LARGEST:
        raise Invalid({"file": f"That file is larger than {LARGEST // 1000} kB: divide it."})
    if not data.strip():
        raise Invalid({"file": "That file is empty."})
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    if "\x00" in text:
        raise Invalid({"file": "That is no table of text. Save it as CSV first."})
    return text


def table(text: str, names: Mapping[str, tuple[str, ...]], needed: tuple[str, ...]) -> Table:
    """The rows of a text. `names`: for each column the headings it may go by; `needed` ones must be there.

    Raises Invalid at `file`.
    """
    delimiter = sniffed(text)
    csv.field_size_limit(LARGEST + 1)
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        rows = []
        before = 0
        for cells in reader:
            number, before = before + 1, reader.line_num
            if any(cell.strip() for cell in cells):
                rows.append((number, cells))
            if len(rows) > MOST_ROWS + 1:
                raise Invalid({"file": f"That is more than {MOST_ROWS} rows: divide the file."})
    except csv.Error as error:
        raise Invalid({"file": f"Line {reader.line_num} can't be read: {error}."}) from error
    if not rows:
        raise Invalid({"file": "That file is empty."})
    known = {_plain(heading): name for name, headings in names.items() for heading in (name, *headings)}
    headings = rows[0][1]
    if len(headings) > MOST_COLUMNS:
        raise Invalid({"file": f"That is more than {MOST_COLUMNS} columns."})
    columns = [known.get(_plain(heading)) for heading in headings]
    if twice := {name for name in columns if name and columns.count(name) > 1}:
        raise Invalid({"file": f"Two columns are headed {' and '.join(sorted(twice))}."})
    if missing := [name for name in needed if name not in columns]:
        read = ", ".join(heading.strip()[:30] for heading in headings if heading.strip())[:200]
        raise Invalid({"file": f"No column is headed {' or '.join(missing)}. The first row reads: {read}."})
    lines = []
    for number, cells in rows[1:]:
        found = {name: _cell(cell) for name, cell in zip(columns, cells, strict=False) if name}
        if len(cells) > len(columns) and any(cell.strip() for cell in cells[len(columns) :]):
            found[""] = "This row has more cells than there are headings: is a cell with a comma quoted?"
        lines.append(Line(number, found))
    if not lines:
        raise Invalid({"file": "There is a row of headings, but no row below it."})
    unknown = [
        heading.strip()[:40] for heading, name in zip(headings, columns, strict=True) if not name and heading.strip()
    ]
    return Table(lines, delimiter, unknown)


def sniffed(text: str) -> str:
    """The delimiter that parts the row of headings into most cells; quotes are respected.

    Not `csv.Sniffer`: it takes `wood, kind;price;wood, sort;lot` for commas, and wants more than one column.
    """
    first = next((line for line in text.splitlines() if line.strip()), "")
    counts = {}
    for delimiter in DELIMITERS:
        try:
            counts[delimiter] = len(next(csv.reader([first], delimiter=delimiter)))
        except (csv.Error, StopIteration):
            counts[delimiter] = 0
    return max(counts, key=lambda delimiter: counts[delimiter])


def _plain(heading: str) -> str:
    return " ".join(folded(heading.replace("_", " ").replace("-", " ")).split())


def _cell(text: str) -> str:
    # A sheet that guarded itself against formulas put an apostrophe before them: ours does so too.
    text = as_typed(text.strip()[:LONGEST_CELL])
    return "".join(c for c in text if c in "\n\t" or c.isprintable() or c.isspace())
