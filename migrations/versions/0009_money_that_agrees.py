"""prices of extras, tax status of orders, patterns that were dropped, notices seen, invoices and their numbers."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

MONEY = sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql")
DOCUMENT = sa.JSON().with_variant(postgresql.JSONB(), "postgresql")
MOMENT = sa.DateTime(timezone=True)
order = sa.table("customer_order", sa.column("id", sa.Integer()), sa.column("status", sa.String()))
rate = sa.table("stage_rate", sa.column("stage", sa.String()), sa.column("minutes", sa.Integer()))
minutes = sa.table("stage_minutes", sa.column("stage", sa.String()), sa.column("minutes", sa.Integer()))
flute = sa.table(
    "ordered_flute",
    sa.column("order_id", sa.Integer()),
    sa.column("extras", sa.String()),
    sa.column("extras_price", MONEY),
)


def _words(name: str, *words: str) -> sa.Enum:
    return sa.Enum(*words, name=name, native_enum=False, length=30)


def upgrade() -> None:
    taxed = _words("taxstatus", "taxed", "exempt", "resale", "export")
    op.add_column("customer_order", sa.Column("tax_status", taxed, server_default="taxed", nullable=False))
    op.add_column("customer_order", sa.Column("tax_reference", sa.String(80), server_default="", nullable=False))
    op.add_column("ordered_flute", sa.Column("extras_price", MONEY, nullable=True))
    op.add_column("ordered_flute", sa.Column("dropped_revision_id", sa.Integer(), nullable=True))
    # What was quoted or confirmed was agreed with its extras: they cost nothing beside the price that was told.
    agreed = sa.select(order.c.id).where(order.c.status != "enquiry")
    priced = sa.update(flute).where(flute.c.extras != "", flute.c.order_id.in_(agreed))
    op.execute(priced.values(extras_price=sa.literal_column("'0.00'")))
    # The minutes that prices were calculated with are those of the whole shop from now on.
    timed = op.get_bind().execute(sa.select(rate.c.stage, rate.c.minutes).where(rate.c.minutes > 0)).all()
    for stage, planned in timed:
        op.execute(sa.delete(minutes).where(minutes.c.stage == stage))
        op.execute(sa.insert(minutes).values(stage=stage, minutes=planned))
    op.drop_column("stage_rate", "minutes")
    op.create_table(
        "notice_seen",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("order_id", sa.Integer(), sa.ForeignKey("customer_order.id"), nullable=False),
        sa.Column("mark", sa.String(64), nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("by", sa.Integer(), sa.ForeignKey("person.id"), nullable=False),
    )
    op.create_index("ix_notice_seen_order_id", "notice_seen", ["order_id"])
    kinds = ("invoice", "credit note", "receipt")
    op.create_table(
        "bill",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("kind", _words("billkind", *kinds), nullable=False),
        sa.Column("year", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), sa.ForeignKey("customer_order.id"), nullable=False),
        sa.Column("issued_on", sa.Date(), nullable=False),
        sa.Column("currency", sa.String(3), nullable=False),
        sa.Column("total", MONEY, nullable=False),
        sa.Column("tax", MONEY, nullable=False),
        sa.Column("content", DOCUMENT, nullable=False),
        sa.Column("why", sa.String(300), nullable=False),
        sa.Column("credits_id", sa.Integer(), sa.ForeignKey("bill.id"), nullable=True),
        sa.Column("payment_id", sa.Integer(), sa.ForeignKey("payment.id"), nullable=True),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("by", sa.Integer(), sa.ForeignKey("person.id"), nullable=False),
        sa.UniqueConstraint("kind", "year", "number"),
        sa.UniqueConstraint("credits_id"),
        sa.UniqueConstraint("payment_id"),
    )
    op.create_index("ix_bill_order_id", "bill", ["order_id"])
    op.create_index("ix_bill_issued_on", "bill", ["issued_on"])
    op.create_table(
        "bookkeeping",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("numbering", _words("numbering", "per year", "running"), nullable=False),
        sa.Column("accounts", DOCUMENT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
    )
    op.create_table(
        "bill_counter",
        sa.Column("kind", _words("billkind", *kinds), primary_key=True),
        sa.Column("year", sa.Integer(), primary_key=True, autoincrement=False),
        sa.Column("last", sa.Integer(), nullable=False),
    )


def downgrade() -> None:
    op.drop_table("bill_counter")
    op.drop_table("bookkeeping")
    op.drop_index("ix_bill_issued_on", "bill")
    op.drop_index("ix_bill_order_id", "bill")
    op.drop_table("bill")
    op.drop_index("ix_notice_seen_order_id", "notice_seen")
    op.drop_table("notice_seen")
    op.add_column("stage_rate", sa.Column("minutes", sa.Integer(), server_default="0", nullable=False))
    planned = sa.select(minutes.c.minutes).where(minutes.c.stage == rate.c.stage).scalar_subquery()
    op.execute(sa.update(rate).values(minutes=sa.func.coalesce(planned, 0)))
    for table, column in (
        ("ordered_flute", "dropped_revision_id"),
        ("ordered_flute", "extras_price"),
        ("customer_order", "tax_reference"),
        ("customer_order", "tax_status"),
    ):
        op.drop_column(table, column)
