"""flutes on the shelf: their price and place, found at once among however many belong to orders."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

FOR_THE_SHOP = sa.text("ordered_flute_id IS NULL AND status IN ('in work', 'finished')")
MONEY = sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql")
MAIL = sa.Enum("quote", "confirmation", "ready", "shipped", name="mailkind", native_enum=False, length=30)


def upgrade() -> None:
    op.create_index(
        "ix_blank_for_the_shop", "blank", ["key", "id"], sqlite_where=FOR_THE_SHOP, postgresql_where=FOR_THE_SHOP
    )
    op.create_table(
        "outlet",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("customer_id", sa.Integer(), nullable=False),
        sa.Column("keeps_percent", sa.String(20), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["customer_id"], ["customer.id"], name=op.f("fk_outlet_customer_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outlet")),
        sa.UniqueConstraint("name", name=op.f("uq_outlet_name")),
    )
    op.create_index(op.f("ix_outlet_customer_id"), "outlet", ["customer_id"])
    op.create_table(
        "shelf_flute",
        sa.Column("blank_id", sa.Integer(), nullable=False),
        sa.Column("price", MONEY, nullable=False),
        sa.Column("place", sa.String(80), nullable=False),
        sa.Column("outlet_id", sa.Integer(), nullable=True),
        sa.Column("since", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_shelf_flute_blank_id")),
        sa.ForeignKeyConstraint(["outlet_id"], ["outlet.id"], name=op.f("fk_shelf_flute_outlet_id")),
        sa.PrimaryKeyConstraint("blank_id", name=op.f("pk_shelf_flute")),
    )
    op.create_index(op.f("ix_shelf_flute_outlet_id"), "shelf_flute", ["outlet_id"])
    op.create_table(
        "shelf_sale",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("blank_id", sa.Integer(), nullable=False),
        sa.Column("outlet_id", sa.Integer(), nullable=True),
        sa.Column("place", sa.String(80), nullable=False),
        sa.Column("price", MONEY, nullable=False),
        sa.Column("sold_on", sa.Date(), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("taken_back_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_shelf_sale_blank_id")),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_shelf_sale_by")),
        sa.ForeignKeyConstraint(["order_id"], ["customer_order.id"], name=op.f("fk_shelf_sale_order_id")),
        sa.ForeignKeyConstraint(["outlet_id"], ["outlet.id"], name=op.f("fk_shelf_sale_outlet_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shelf_sale")),
        sa.UniqueConstraint("order_id", name=op.f("uq_shelf_sale_order_id")),
    )
    for column in ("blank_id", "outlet_id", "sold_on"):
        op.create_index(op.f(f"ix_shelf_sale_{column}"), "shelf_sale", [column])
    op.create_table(
        "flute_pages",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("is_open", sa.Boolean(), nullable=False),
        sa.Column("warranty", sa.String(2000), nullable=False),
        sa.Column("finish_care", sa.String(1000), nullable=False),
        sa.Column("secret", sa.String(64), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_flute_pages")),
    )
    op.create_table(
        "parcel",
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("address", sa.String(400), nullable=False),
        sa.Column("country", sa.String(2), nullable=False),
        sa.Column("is_gift", sa.Boolean(), nullable=False),
        sa.Column("gift_words", sa.String(500), nullable=False),
        sa.Column("carrier", sa.String(60), nullable=False),
        sa.Column("tracking", sa.String(80), nullable=False),
        sa.Column("weight", sa.Integer(), nullable=True),
        sa.Column("sent_on", sa.Date(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["order_id"], ["customer_order.id"], name=op.f("fk_parcel_order_id")),
        sa.PrimaryKeyConstraint("order_id", name=op.f("pk_parcel")),
    )
    op.create_table(
        "mail_template",
        sa.Column("kind", MAIL, nullable=False),
        sa.Column("subject", sa.String(200), nullable=False),
        sa.Column("body", sa.String(2000), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("kind", name=op.f("pk_mail_template")),
    )


def downgrade() -> None:
    op.drop_table("mail_template")
    op.drop_table("parcel")
    op.drop_table("flute_pages")
    op.drop_table("shelf_sale")
    op.drop_table("shelf_flute")
    op.drop_table("outlet")
    op.drop_index("ix_blank_for_the_shop", "blank")
