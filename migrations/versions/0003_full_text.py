"""full-text search, by each database's own means, with rows for what is there already.

What is found of each thing, and how its words are folded and parted, is written down here as it was at this revision:
the rules of today (webapp/models/search/searching.py) may ask for columns that are not there yet.
"""

import re
import unicodedata
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

# The words come folded and parted already: neither database shall do anything to them.
SQLITE = [
    """CREATE VIRTUAL TABLE search_words USING fts5(
        words, content='search_row', content_rowid='id', tokenize="unicode61 remove_diacritics 0 tokenchars '#'",
        prefix='2 3 4 5 6 7 8', detail='none', columnsize=0)""",
    """CREATE TRIGGER search_row_added AFTER INSERT ON search_row BEGIN
        INSERT INTO search_words (rowid, words) VALUES (new.id, new.words); END""",
    """CREATE TRIGGER search_row_gone AFTER DELETE ON search_row BEGIN
        INSERT INTO search_words (search_words, rowid, words) VALUES ('delete', old.id, old.words); END""",
    """CREATE TRIGGER search_row_changed AFTER UPDATE ON search_row BEGIN
        INSERT INTO search_words (search_words, rowid, words) VALUES ('delete', old.id, old.words);
        INSERT INTO search_words (rowid, words) VALUES (new.id, new.words); END""",
]
# Without a list of rows that are still to be sorted in: every search would walk it, and the planner fears it.
POSTGRESQL = (
    "CREATE INDEX search_words ON search_row USING gin (array_to_tsvector(string_to_array(words, ' ')))"
    " WITH (fastupdate = off)"
)
SEARCH_ROW = sa.table(
    "search_row",
    sa.column("kind", sa.String()),
    sa.column("row_id", sa.Integer()),
    sa.column("at_hand", sa.Boolean()),
    sa.column("head", sa.Text()),
    sa.column("notes", sa.Text()),
    sa.column("words", sa.Text()),
)

# Of each kind of thing: its table; whether it is at hand and what it goes by; what else is said of it (in its head or
# its notes, whether each text only once, statement). Statements ask for ids from :first to :last; `key` is a key.
KINDS: dict[str, tuple[str, str, list[tuple[str, bool, str]]]] = {
    "customer": (
        "customer",
        "SELECT id, TRUE, name FROM customer WHERE id BETWEEN :first AND :last ORDER BY id",
        [("notes", False, "SELECT id, contact, note FROM customer WHERE id BETWEEN :first AND :last")],
    ),
    "order": (
        "customer_order",
        """SELECT o.id, o.status NOT IN ('handed over', 'withdrawn'), 'order ' || o.number, c.name
            FROM customer_order o JOIN customer c ON c.id = o.customer_id
            WHERE o.id BETWEEN :first AND :last ORDER BY o.id""",
        [
            (
                "notes",
                False,
                """SELECT o.id, c.contact, o.note FROM customer_order o JOIN customer c ON c.id = o.customer_id
                    WHERE o.id BETWEEN :first AND :last""",
            ),
            (
                "head",
                True,
                """SELECT f.order_id, f.key AS key, s.name, f.scale
                    FROM ordered_flute f JOIN species s ON s.id = f.species_id
                    WHERE f.order_id BETWEEN :first AND :last ORDER BY f.id""",
            ),
            (
                "notes",
                True,
                "SELECT order_id, extras FROM ordered_flute WHERE order_id BETWEEN :first AND :last ORDER BY id",
            ),
            (
                "notes",
                False,
                """SELECT r.order_id, r.described, r.asked, r.found, b.serial
                    FROM repair r LEFT JOIN blank b ON b.id = r.blank_id
                    WHERE r.order_id BETWEEN :first AND :last ORDER BY r.id""",
            ),
        ],
    ),
    "pattern": (
        "pattern",
        "SELECT id, TRUE, name, key AS key, scale FROM pattern WHERE id BETWEEN :first AND :last ORDER BY id",
        [
            (
                "notes",
                False,
                "SELECT pattern_id, note FROM pattern_revision WHERE pattern_id BETWEEN :first AND :last ORDER BY id",
            )
        ],
    ),
    "lot": (
        "stock_item",
        """SELECT i.id, NOT i.used_up, i.name, i.kind, s.name, i.place
            FROM stock_item i LEFT JOIN species s ON s.id = i.species_id
            WHERE i.id BETWEEN :first AND :last ORDER BY i.id""",
        [
            (
                "notes",
                True,
                "SELECT item_id, note FROM stock_movement WHERE item_id BETWEEN :first AND :last ORDER BY id",
            )
        ],
    ),
    "blank": (
        "blank",
        """SELECT b.id, b.status = 'in work', b.serial, b.key AS key, s.name, p.name, 'order ' || o.number, c.name
            FROM blank b
            JOIN species s ON s.id = b.species_id
            JOIN pattern_revision r ON r.id = b.revision_id
            JOIN pattern p ON p.id = r.pattern_id
            LEFT JOIN ordered_flute f ON f.id = b.ordered_flute_id
            LEFT JOIN customer_order o ON o.id = f.order_id
            LEFT JOIN customer c ON c.id = o.customer_id
            WHERE b.id BETWEEN :first AND :last ORDER BY b.id""",
        [
            (
                "notes",
                False,
                "SELECT blank_id, note, why FROM step_record WHERE blank_id BETWEEN :first AND :last ORDER BY id",
            ),
            ("notes", False, "SELECT blank_id, note FROM reading WHERE blank_id BETWEEN :first AND :last ORDER BY id"),
        ],
    ),
}
AT_ONCE = 400  # ids
SHARPS = {"c#": "db", "d#": "eb", "f#": "gb", "g#": "ab", "a#": "bb"}
FLATS = {flat: sharp for sharp, flat in SHARPS.items()}


def upgrade() -> None:
    connection = op.get_bind()
    for statement in [POSTGRESQL] if connection.dialect.name == "postgresql" else SQLITE:
        connection.exec_driver_sql(statement)
    for kind, (table, _, _) in KINDS.items():
        last = connection.execute(sa.select(sa.func.max(sa.column("id"))).select_from(sa.table(table))).scalar() or 0
        for first in range(1, last + 1, AT_ONCE):
            if rows := search_rows(connection, kind, {"first": first, "last": first + AT_ONCE - 1}):
                connection.execute(sa.insert(SEARCH_ROW), rows)


def downgrade() -> None:
    connection = op.get_bind()
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql("DROP INDEX search_words")
    else:
        for name in ("added", "gone", "changed"):
            connection.exec_driver_sql(f"DROP TRIGGER search_row_{name}")
        connection.exec_driver_sql("DROP TABLE search_words")
    connection.exec_driver_sql("DELETE FROM search_row")


def search_rows(connection: sa.Connection, kind: str, ids: dict[str, int]) -> list[dict[str, Any]]:
    """The rows of what has these ids, in their order."""
    _, named, said = KINDS[kind]
    rows: dict[int, dict[str, Any]] = {}
    found = connection.execute(sa.text(named), ids)
    columns = list(found.keys())[2:]
    for row_id, at_hand, *texts in found:
        rows[row_id] = {"at_hand": bool(at_hand), "head": parts(columns, texts), "notes": []}
    for where, once, statement in said:
        found = connection.execute(sa.text(statement), ids)
        columns = list(found.keys())[1:]
        for row_id, *texts in found:
            into = rows[row_id][where]
            for text in parts(columns, texts):
                if not (once and text in into):
                    into.append(text)
    return [search_row(kind, row_id, **row) for row_id, row in rows.items()]


def parts(columns: list[str], texts: list[str | None]) -> list[str]:
    """The texts that say something."""
    named = zip(columns, texts, strict=True)
    return [" ".join(key_words(text)) if name == "key" else text for name, text in named if text]


def search_row(kind: str, row_id: int, at_hand: bool, head: list[str], notes: list[str]) -> dict[str, Any]:
    said = [word for part in head + notes for word in words(part)]
    for part in head:
        if len(split := words(part)) > 1:
            said.append("".join(split)[:40])  # TQ-0141 is found as tq0141 too
    marks = [f"#{kind}"] + (["#open"] if at_hand else [])
    return {
        "kind": kind,
        "row_id": row_id,
        "at_hand": at_hand,
        "head": " · ".join(part for part in head if part),
        "notes": "\n".join(notes),
        "words": " ".join(dict.fromkeys([*marks, *said])),
    }


def words(text: str) -> list[str]:
    """The words of a text without case and accents; a sharp stays with its letter."""
    plain = text.replace("\N{MUSIC SHARP SIGN}", "#").replace("\N{MUSIC FLAT SIGN}", "b").casefold()
    letters = [c for c in unicodedata.normalize("NFKD", plain) if not unicodedata.combining(c)]
    return re.findall(r"[^\W_]+(?:#\d?)?", "".join(letters))


def key_words(key: str) -> list[str]:
    """A key in both its spellings: f#4, gb4."""
    plain = "".join(words(key))
    other = SHARPS.get(plain[:2]) or FLATS.get(plain[:2])
    return [plain, other + plain[2:]] if other and plain[2:].isdigit() else [plain]
