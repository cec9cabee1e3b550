"""Who works in the invented shop, what lies on its shelves, and what its invented customers asked for.

Days are counted back from the day the demo is made (negative: in the past), so that it always looks alive.
"""

from dataclasses import dataclass

from webapp.models import OrderStatus, Role

SHOP_NAME = "Tansy & Quillon, Flutes"
OWNER = "orla"
OWNER_NAME = "Orla Quillon"

# name, name to sign in with, role
PEOPLE = [
    ("Jory Tansy", "jory", Role.MAKER),
    ("Sanna Hollis", "sanna", Role.MAKER),
    ("Bea Lundqvist-Orr", "bea", Role.OFFICE),
    ("Wim the apprentice", "wim", Role.VIEWER),
]


@dataclass(frozen=True, slots=True)
class Halves:
    """A lot of halves: how many came in, how large [mm], how dry [%], what one cost."""

    wood: str
    count: int
    length: float
    moisture: float
    cost: str
    place: str


HALVES = [
    Halves("western redcedar", 40, 620.0, 8.2, "4.50", "rack A, top"),
    Halves("eastern redcedar", 24, 560.0, 8.6, "5.25", "rack A, middle"),
    Halves("black walnut", 34, 640.0, 7.9, "9.80", "rack B, top"),
    Halves("black cherry", 26, 600.0, 8.0, "8.40", "rack B, middle"),
    Halves("sugar maple", 14, 620.0, 7.4, "8.90", "rack B, bottom"),
    Halves("redwood", 10, 700.0, 9.1, "7.60", "rack C"),
]

# kind, name, wood, unit, how much, unit cost, reorder at, place
SUPPLIES = [
    ("board", "walnut board, 2.4 m, rift sawn", "black walnut", "piece", 3, "64.00", 1, "loft"),
    ("board", "cherry board, 2.0 m", "black cherry", "piece", 2, "48.00", 1, "loft"),
    ("block blank", "block blanks, walnut offcuts", "black walnut", "piece", 22, "1.20", 8, "bin 3"),
    ("block blank", "block blanks, maple", "sugar maple", "piece", 6, "1.40", 8, "bin 4"),
    ("glue", "white wood glue, opened in spring", None, "ml", 620, "0.02", 250, "glue shelf"),
    ("finish", "tung oil", None, "ml", 900, "0.05", 300, "steel cabinet"),
    ("finish", "beeswax paste", None, "g", 340, "0.06", 150, "steel cabinet"),
    ("cord", "waxed cord, undyed", None, "m", 38, "0.60", 10, "drawer 2"),
]

# name, key, scale, holes: the shop's patterns; the first ones have been built from for a while.
PATTERNS = [
    ("Heron in A", "A4", "minor pentatonic", 6),
    ("Heron in G", "G4", "minor pentatonic", 6),
    ("Heron in F sharp", "F#4", "minor pentatonic", 6),
    ("Bittern in E", "E4", "minor pentatonic", 6),
    ("Wren in C", "C5", "minor pentatonic", 5),
]


@dataclass(frozen=True, slots=True)
class Wanted:
    """An order: for whom, what, when it was taken and is due, and how far its blanks have come.

    `blanks` says for each blank where it stands: a step's code, "finished", "handed over", "firewood" or "clamps".
    """

    customer: str
    contact: str
    pattern: str
    wood: str
    price: str
    taken: int
    due: int
    status: OrderStatus
    blanks: tuple[str, ...] = ()
    extras: str = ""
    extras_price: str = "0"
    note: str = ""
    reach: float | None = None


@dataclass(frozen=True, slots=True)
class Batch:
    """Blanks opened for the shelf, glued up together."""

    pattern: str
    wood: str
    taken: int
    blanks: tuple[str, ...]


C, DONE = OrderStatus.CONFIRMED, OrderStatus.HANDED_OVER
ORDERS = [
    Wanted(
        "Maren Achterberg",
        "maren@post.invalid",
        "Heron in A",
        "western redcedar",
        "260.00",
        -310,
        -255,
        DONE,
        ("handed over", "handed over"),
    ),
    Wanted(
        "The Thistle Street School",
        "office@thistle.invalid",
        "Heron in G",
        "black cherry",
        "235.00",
        -262,
        -190,
        DONE,
        ("handed over", "handed over", "handed over"),
        extras="Name burned in at the foot",
        extras_price="18.00",
    ),
    Wanted(
        "Ilka Dornfeld", "0555 0102", "Heron in F sharp", "black walnut", "310.00", -205, -150, DONE, ("handed over",)
    ),
    Wanted(
        "Tobin Achterberg",
        "tobin@post.invalid",
        "Heron in A",
        "eastern redcedar",
        "270.00",
        -171,
        -120,
        DONE,
        ("handed over", "firewood", "handed over"),
    ),
    Wanted("Ruan Pellow", "ruan@post.invalid", "Wren in C", "sugar maple", "215.00", -128, -80, DONE, ("handed over",)),
    Wanted(
        "Sefa Lindqvist",
        "sefa@post.invalid",
        "Heron in A",
        "western redcedar",
        "265.00",
        -61,
        3,
        C,
        ("finished", "finished"),
        extras="Leather tie, carved block",
        extras_price="74.00",
    ),
    Wanted(
        "Odalys Brandt",
        "0555 0147",
        "Heron in G",
        "black walnut",
        "295.00",
        -47,
        6,
        C,
        ("last-tuning", "coat-2", "tuned"),
        reach=176.0,
        note="Small hands: tried the shop's own G and could just cover it.",
    ),
    Wanted(
        "Hale & Daughter, gift shop",
        "orders@hale.invalid",
        "Heron in A",
        "western redcedar",
        "240.00",
        -40,
        12,
        C,
        ("tuned", "holes", "tuned", "coat-1"),
    ),
    Wanted(
        "Perrin Vance",
        "perrin@post.invalid",
        "Bittern in E",
        "redwood",
        "340.00",
        -33,
        15,
        C,
        ("fundamental",),
        extras="Lined case",
    ),
    Wanted(
        "Ada Whitlock",
        "0555 0119",
        "Heron in F sharp",
        "black cherry",
        "285.00",
        -26,
        -2,
        C,
        ("fundamental", "edge"),
        note="Wanted for a birthday; call when it is voiced.",
    ),
    Wanted(
        "Joss Everard",
        "joss@post.invalid",
        "Heron in A",
        "eastern redcedar",
        "275.00",
        -17,
        24,
        C,
        ("clamps", "clamps"),
    ),
    Wanted(
        "The Thistle Street School",
        "office@thistle.invalid",
        "Heron in G",
        "black cherry",
        "235.00",
        -12,
        31,
        C,
        ("glue-up", "glue-up", "dry-fit", "bore-gauge"),
    ),
    Wanted("Nell Abara", "nell@post.invalid", "Wren in C", "sugar maple", "220.00", -6, 40, C, ("halves",)),
    Wanted(
        "Corin Slate",
        "0555 0188",
        "Heron in A",
        "black walnut",
        "305.00",
        -2,
        45,
        OrderStatus.QUOTED,
        note="Wants to hear one first.",
    ),
    Wanted(
        "Yara Finch-Halloran",
        "yara@post.invalid",
        "Bittern in E",
        "western redcedar",
        "330.00",
        -1,
        60,
        OrderStatus.ENQUIRY,
    ),
]

FOR_THE_SHELF = [
    Batch("Heron in A", "black walnut", -70, ("finished", "firewood")),
    Batch("Heron in G", "western redcedar", -52, ("finished", "coat-1")),
    Batch("Heron in A", "black cherry", -30, ("tuned", "fundamental", "flue-depth")),
    Batch("Heron in F sharp", "black walnut", -16, ("scraped", "planed")),
    Batch("Heron in G", "western redcedar", -9, ("clamps", "glue-up")),
    Batch("Heron in A", "western redcedar", -4, ("bore-sanded", "halves")),
]
