"""customs of a country: degrees of temperatures (the shop's, and a person's own), decimal commas in tables.

A shop that works in inches begins with Fahrenheit. What is searched for is folded further: Øyvind is found as oyvind,
Đorđe as dorde, d’Arbois as d'arbois.
"""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

DEGREES = sa.Enum("C", "F", name="degrees", native_enum=False, length=30)
shop = sa.table("shop", sa.column("units", sa.String()), sa.column("degrees", sa.String()))


# As names were to be found from this revision on; the program's own table may have grown since.
FOLDS = str.maketrans(
    {"ø": "o", "đ": "d", "ð": "d", "ł": "l", "ħ": "h", "ŧ": "t", "ı": "i", "ŋ": "n", "ĸ": "k", "æ": "ae", "œ": "oe",
     "þ": "th", "’": "'", "‘": "'", "ʼ": "'", "´": "'", "`": "'", "‐": "-", "‑": "-"}
)  # fmt: skip
AT_ONCE = 400
MOST = {"customer": 400, "search_row": None}  # characters
customer = sa.table("customer", sa.column("id", sa.Integer()), sa.column("sought", sa.String()))
search_row = sa.table("search_row", sa.column("id", sa.Integer()), sa.column("words", sa.Text()))


def upgrade() -> None:
    op.add_column("shop", sa.Column("degrees", DEGREES, server_default="C", nullable=False))
    op.add_column("shop", sa.Column("decimal_comma", sa.Boolean(), server_default=sa.false(), nullable=False))
    op.add_column("import_draft", sa.Column("done_at", sa.DateTime(timezone=True), nullable=True))
    document = sa.JSON().with_variant(postgresql.JSONB(), "postgresql")
    op.add_column("import_draft", sa.Column("undo", document, nullable=True))
    op.add_column("board_flaw", sa.Column("board", sa.Integer(), nullable=True))
    op.add_column("person", sa.Column("degrees", DEGREES, nullable=True))
    op.get_bind().execute(sa.update(shop).where(shop.c.units == "inch").values(degrees="F"))
    fold(customer, customer.c.sought)
    fold(search_row, search_row.c.words)


def fold(table: sa.TableClause, column: sa.ColumnClause[str]) -> None:
    """Fold what was written down to be compared, some rows at a time."""
    connection = op.get_bind()
    last = 0
    while True:
        asked = sa.select(table.c.id, column).where(table.c.id > last).order_by(table.c.id).limit(AT_ONCE)
        rows = connection.execute(asked).all()
        if not rows:
            return
        for row_id, text in rows:
            if (further := text.translate(FOLDS)) != text:
                kept = {column.name: further[: MOST[table.name]]}
                connection.execute(sa.update(table).where(table.c.id == row_id).values(kept))
        last = rows[-1][0]


def downgrade() -> None:
    with op.batch_alter_table("import_draft") as batch:
        batch.drop_column("undo")
        batch.drop_column("done_at")
    with op.batch_alter_table("board_flaw") as batch:
        batch.drop_column("board")
    with op.batch_alter_table("person") as batch:
        batch.drop_column("degrees")
    with op.batch_alter_table("shop") as batch:
        batch.drop_column("decimal_comma")
        batch.drop_column("degrees")
