"""The kinds of table that can be imported: their columns, by whatever headings, and an example of each."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from sqlmodel import Session

from webapp.shop.exchange import csv_patterns, csv_rows
from webapp.shop.exchange.csv_rows import Cells, Fate, Says
from webapp.shop.people.accounts import Who


@dataclass(frozen=True, slots=True)
class Noun:
    """A kind of table: its columns with the other headings they may go by, the needed ones, an example, its rule."""

    columns: dict[str, tuple[str, ...]]
    needed: tuple[str, ...]
    example: list[list[str]]
    bring_in: Callable[[Session, Who, Cells, Says], Fate]


_HOLES = {
    name: other
    for n in range(1, 7)
    for name, other in (
        (f"hole_{n}_place", (f"hole {n} position", f"hole {n} x")),
        (f"hole_{n}_diameter", (f"hole {n}",)),
    )
}

NOUNS: Final = {
    "customers": Noun(
        {
            "name": ("customer",),
            "contact": ("how to reach them", "mail", "e-mail", "email", "phone", "telephone"),
            "address": ("postal address",),
            "note": ("notes", "remark"),
        },
        ("name",),
        [
            ["Name", "Contact", "Address", "Note"],
            ["Wilmot Ashgrove", "wilmot@post.invalid", "3 Millrace, Lower Fell", "Plays in the park on Sundays"],
            ["Ines Tolliver", "0555 0171", "", ""],
        ],
        csv_rows.customer,
    ),
    "stock": Noun(
        {
            "kind": ("type",),
            "name": ("lot", "item"),
            "wood": ("species",),
            "unit": (),
            "quantity": ("amount", "count", "pieces"),
            "length": (),
            "width": (),
            "thickness": (),
            "moisture": ("moisture percent",),
            "unit_cost": ("cost", "price", "unit price"),
            "reorder_at": ("reorder", "buy more at"),
            "place": ("where", "shelf"),
            "note": ("notes", "remark"),
        },
        ("kind", "name"),
        [
            [
                "Kind",
                "Name",
                "Wood",
                "Unit",
                "Quantity",
                "Length",
                "Width",
                "Thickness",
                "Moisture",
                "Unit cost",
                "Reorder at",
                "Place",
                "Note",
            ],
            [
                "halves",
                "walnut halves, spring",
                "black walnut",
                "piece",
                "12",
                "24 in",
                "1 1/2 in",
                "3/4 in",
                "8.1",
                "9.80",
                "4",
                "rack B",
                "From one board",
            ],
            ["glue", "hide glue, liquid", "", "ml", "500", "", "", "", "", "0.03", "150", "glue shelf", ""],
        ],
        csv_rows.lot_of_stock,
    ),
    "patterns": Noun(
        {
            "name": ("pattern",),
            "key": (),
            "scale": (),
            "a4": ("pitch standard",),
            "temperament": (),
            "bore": ("bore diameter",),
            "bore_at_foot": (),
            "wall": (),
            "outside": (),
            "foot": ("length", "foot from the splitting edge"),
            "plug": ("plug from the splitting edge",),
            "window_length": ("cut-up",),
            "window_width": (),
            "window_wall": (),
            "edge_height": (),
            "edge_angle": (),
            "flue_depth": (),
            "flue_width": (),
            "flue_length": (),
            "chamber_length": ("slow air chamber length",),
            "chamber_diameter": ("slow air chamber diameter",),
            "block_height": (),
            "block_width": (),
            "block_length": (),
            "block_setback": (),
            "finger_depth": (),
            **_HOLES,
            "note": ("notes", "remark"),
        },
        ("name", "key", "bore", "wall", "foot", "plug", "window_length", "window_width"),
        [
            [
                "Name",
                "Key",
                "Scale",
                "Bore",
                "Wall",
                "Foot",
                "Plug",
                "Window length",
                "Window width",
                "Window wall",
                "Edge angle",
                "Flue depth",
                "Flue width",
                "Flue length",
                "Chamber length",
                "Chamber diameter",
                *(f"Hole {n} {what}" for n in range(1, 7) for what in ("place", "diameter")),
                "Note",
            ],
            [
                "Sandpiper in A",
                "A4",
                "minor pentatonic",
                "19.05 mm",
                "4.8 mm",
                "330 mm",
                "8.5 mm",
                "5.5 mm",
                "11.4 mm",
                "3.6 mm",
                "30",
                "0.8 mm",
                "10.3 mm",
                "24 mm",
                "160 mm",
                "19.05 mm",
                "130 mm",
                "7 mm",
                "152 mm",
                "7.5 mm",
                "176 mm",
                "8 mm",
                "205 mm",
                "8 mm",
                "232 mm",
                "8.5 mm",
                "262 mm",
                "7 mm",
                "Measured from a flute",
            ],
        ],
        csv_patterns.pattern,
    ),
}
