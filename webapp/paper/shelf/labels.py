"""Labels with a QR code for lots, boards and blanks, on sheets of labels that are sold by their dimensions.

Dimensions are those of the sheets in common use, from memory: measure a sheet of your own, and print a page on plain
paper first and hold it against it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from sqlmodel import Session, col, select

from webapp.models import Blank, Order, OrderedFlute, Species, StockItem, StockKind, Units
from webapp.paper.press.jobs import Job
from webapp.paper.press.qr import qr_svg
from webapp.paper.press.sheets import job
from webapp.shop.units.keys import show_note
from webapp.shop.units.rough import rough_size

IN: Final = 25.4
MOST: Final = 400
A4: Final = (210.0, 297.0)
LETTER: Final = (215.9, 279.4)


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """A sheet of labels [mm]: the paper, one label, how many across and down, where the first lies, the pitch."""

    code: str
    words: str
    paper: tuple[float, float]
    width: float
    height: float
    across: int
    down: int
    left: float
    top: float
    pitch_x: float
    pitch_y: float

    @property
    def count(self) -> int:
        return self.across * self.down

    def place(self, position: int) -> tuple[float, float]:
        """Left and top of the label at a position, counted from 0 along the rows [mm]."""
        row, column = divmod(position, self.across)
        return self.left + column * self.pitch_x, self.top + row * self.pitch_y


SHEETS: Final = {
    sheet.code: sheet
    for sheet in (
        LabelSheet("a4-21", "63.5 × 38.1 mm, 21 on A4", A4, 63.5, 38.1, 3, 7, 7.25, 15.15, 66.0, 38.1),
        LabelSheet("a4-24", "70 × 37 mm, 24 on A4", A4, 70.0, 37.0, 3, 8, 0.0, 0.5, 70.0, 37.0),
        LabelSheet("a4-10", "99.1 × 57 mm, 10 on A4", A4, 99.1, 57.0, 2, 5, 4.65, 6.0, 101.6, 57.0),
        LabelSheet("a4-40", "48.5 × 25.4 mm, 40 on A4", A4, 48.5, 25.4, 4, 10, 8.0, 21.5, 48.5, 25.4),
        LabelSheet(
            "letter-30",
            "2 5/8 × 1 in, 30 on letter",
            LETTER,
            2.625 * IN,
            IN,
            3,
            10,
            0.1875 * IN,
            0.5 * IN,
            2.75 * IN,
            IN,
        ),
        LabelSheet(
            "letter-10",
            "4 × 2 in, 10 on letter",
            LETTER,
            4 * IN,
            2 * IN,
            2,
            5,
            0.15625 * IN,
            0.5 * IN,
            4.1875 * IN,
            2 * IN,
        ),
        LabelSheet(
            "letter-20", "4 × 1 in, 20 on letter", LETTER, 4 * IN, IN, 2, 10, 0.15625 * IN, 0.5 * IN, 4.1875 * IN, IN
        ),
        LabelSheet("roll", "62 × 29 mm, one after another on a roll", (62.0, 29.0), 62.0, 29.0, 1, 1, 0, 0, 62.0, 29.0),
    )
}


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on a label: large, then small lines; and where its code leads."""

    large: str
    lines: tuple[str, ...]
    address: str
    size: str = ""  # never cut off, however small the label


def labels_for(
    session: Session, units: Units, base: str, lots: Sequence[int], serials: Sequence[str], copies: int = 1
) -> list[Label]:
    """A label for each lot and blank that there is, in the order of the shelf, so many copies of each."""
    found = [*_lots(session, units, base, lots), *_blanks(session, base, serials)]
    return [label for label in found for _ in range(copies)][:MOST]


def _lots(session: Session, units: Units, base: str, ids: Sequence[int]) -> Iterator[Label]:
    rows = session.exec(
        select(StockItem, Species)
        .join(Species, col(Species.id) == StockItem.species_id, isouter=True)
        .where(col(StockItem.id).in_(ids))
        .order_by(StockItem.kind, StockItem.name, col(StockItem.id))
    )
    for item, species in rows:
        size = rough_size((item.length, item.width, item.thickness), units)
        lines = [item.name] if species else []
        # Moisture stays off: a printed one would be wrong within weeks; the code leads to the latest.
        lines += [f"{item.place} · since {item.created_at:%b %Y}" if item.place else f"since {item.created_at:%b %Y}"]
        name = species.name if species else item.name
        kind = {StockKind.BOARD: "board", StockKind.HALVES: "halves"}.get(item.kind, str(item.kind))
        flag = ", restricted wood" if species and species.restricted else ""
        yield Label(f"{item.id} {name}", (kind + flag, *lines), f"{base}/stock/{item.id}", size)


def _blanks(session: Session, base: str, serials: Sequence[str]) -> Iterator[Label]:
    rows = session.exec(
        select(Blank, Species, Order.number)
        .join(Species, col(Species.id) == Blank.species_id)
        .join(OrderedFlute, col(OrderedFlute.id) == Blank.ordered_flute_id, isouter=True)
        .join(Order, col(Order.id) == OrderedFlute.order_id, isouter=True)
        .where(col(Blank.serial).in_(serials))
        .order_by(col(Blank.id))
    )
    for blank, species, order in rows:
        what = f"order {order}" if order else "for the shop"
        due = f", due {blank.due_on:%d %b %Y}" if blank.due_on else ""
        yield Label(
            blank.serial, (f"in {show_note(blank.key)}", species.name, what + due), f"{base}/blanks/{blank.serial}"
        )


def labels_job(labels: Sequence[Label], sheet: LabelSheet, start: int = 1) -> Job:
    """The labels on as many sheets as they take; the first one at position `start`, counted from 1.

    Raises ValueError for a position that the sheet does not have.
    """
    if not 1 <= start <= sheet.count:
        raise ValueError(f"start: must be 1 to {sheet.count}")
    pages: list[list[dict[str, object]]] = []
    for n, label in enumerate(labels, start=start - 1):
        page, position = divmod(n, sheet.count)
        while len(pages) <= page:
            pages.append([])
        x, y = sheet.place(position)
        code = min(sheet.height - 2.0, 30.0)
        pages[-1].append(
            {
                "x": f"{x:.3f}",
                "y": f"{y:.3f}",
                "label": label,
                "code": f"{code:.2f}",
                "code_top": f"{min((sheet.height - code) / 2, 3.0):.3f}",
                "qr": qr_svg(label.address, code, f"Page of {label.large}"),
            }
        )
    context: dict[str, object] = {
        "sheet": sheet,
        "pages": pages,
        "size": "small" if sheet.height < 30 else "large" if sheet.height > 48 else "",
    }
    return job("labels.html", "labels.css", [context])
