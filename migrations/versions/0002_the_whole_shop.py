"""the whole shop."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "change_count",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_change_count")),
    )
    op.create_table(
        "chore",
        sa.Column("name", sa.String(40), nullable=False),
        sa.Column("held_until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("tried_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("fault", sa.String(500), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_chore")),
    )
    op.create_table(
        "failed_try",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name_digest", sa.String(64), nullable=False),
        sa.Column("address_digest", sa.String(64), nullable=False),
        sa.Column("known_digest", sa.String(64), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_failed_try")),
    )
    with op.batch_alter_table("failed_try", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_failed_try_address_digest"), ["address_digest"], unique=False)
        batch_op.create_index(batch_op.f("ix_failed_try_at"), ["at"], unique=False)
        batch_op.create_index(batch_op.f("ix_failed_try_known_digest"), ["known_digest"], unique=False)
        batch_op.create_index(batch_op.f("ix_failed_try_name_digest"), ["name_digest"], unique=False)

    op.create_table(
        "flute_option",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("price", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=False),
        sa.Column("materials", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=False),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.Column("offered", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_flute_option")),
        sa.UniqueConstraint("name", name=op.f("uq_flute_option_name")),
    )
    op.create_table(
        "forecast",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Enum("queue", "past", name="forecastkind", native_enum=False, length=30), nullable=False),
        sa.Column("mark", sa.String(64), nullable=False),
        sa.Column("total", sa.Integer(), nullable=False),
        sa.Column("done", sa.Integer(), nullable=False),
        sa.Column("result", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=True),
        sa.Column("fault", sa.String(300), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("touched_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_forecast")),
    )
    with op.batch_alter_table("forecast", schema=None) as batch_op:
        batch_op.create_index("ix_forecast_latest", ["kind", "id"], unique=False)

    op.create_table(
        "learnt",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("based_on", sa.String(64), nullable=False),
        sa.Column("newest", sa.DateTime(timezone=True), nullable=True),
        sa.Column("document", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_learnt")),
    )
    op.create_table(
        "pricing",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("consumables", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=False),
        sa.Column("overhead_percent", sa.String(20), nullable=False),
        sa.Column("markup_percent", sa.String(20), nullable=False),
        sa.Column(
            "rounding",
            sa.Enum(
                "to the cent",
                "nearest 1",
                "up to 1",
                "nearest 5",
                "up to 5",
                "nearest 10",
                "up to 10",
                "up to .99",
                "up to a last figure of 9",
                name="rounding",
                native_enum=False,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("tax_name", sa.String(40), nullable=False),
        sa.Column("tax_percent", sa.String(20), nullable=False),
        sa.Column("tax_included", sa.Boolean(), nullable=False),
        sa.Column("deposit_percent", sa.String(20), nullable=False),
        sa.Column("quote_days", sa.Integer(), nullable=False),
        sa.Column("letterhead", sa.String(500), nullable=False),
        sa.Column("terms", sa.String(1500), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pricing")),
    )
    op.create_table(
        "routing",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(60), nullable=False),
        sa.Column("note", sa.String(500), nullable=False),
        sa.Column("is_usual", sa.Boolean(), nullable=False),
        sa.Column("put_away", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_routing")),
        sa.UniqueConstraint("name", name=op.f("uq_routing_name")),
    )
    op.create_table(
        "search_row",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(10), nullable=False),
        sa.Column("row_id", sa.Integer(), nullable=False),
        sa.Column("at_hand", sa.Boolean(), nullable=False),
        sa.Column("head", sa.Text(), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_search_row")),
        sa.UniqueConstraint("kind", "row_id", name=op.f("uq_search_row_kind_row_id")),
    )
    op.create_table(
        "stage_minutes",
        sa.Column(
            "stage",
            sa.Enum(
                "boring", "gluing", "flue", "voicing", "tuning", "finishing", name="stage", native_enum=False, length=30
            ),
            nullable=False,
        ),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("stage", name=op.f("pk_stage_minutes")),
    )
    op.create_table(
        "stage_rate",
        sa.Column(
            "stage",
            sa.Enum(
                "boring", "gluing", "flue", "voicing", "tuning", "finishing", name="stage", native_enum=False, length=30
            ),
            nullable=False,
        ),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.Column("hourly", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=False),
        sa.PrimaryKeyConstraint("stage", name=op.f("pk_stage_rate")),
    )
    op.create_table(
        "workshop",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kerf", sa.Float(), nullable=False),
        sa.Column("resaw_kerf", sa.Float(), nullable=False),
        sa.Column("board_ends", sa.Float(), nullable=False),
        sa.Column("board_edges", sa.Float(), nullable=False),
        sa.Column("ends", sa.Float(), nullable=False),
        sa.Column("sides", sa.Float(), nullable=False),
        sa.Column("faces", sa.Float(), nullable=False),
        sa.Column("shortest_rest", sa.Float(), nullable=False),
        sa.Column("plan_seconds", sa.Integer(), nullable=False),
        sa.Column("damp_humidity", sa.Float(), nullable=False),
        sa.Column("dry_humidity", sa.Float(), nullable=False),
        sa.Column("indoor_temperature", sa.Float(), nullable=False),
        sa.Column("hourly_rate", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_workshop")),
    )
    op.create_table(
        "api_token",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("begins", sa.String(12), nullable=False),
        sa.Column("scopes", sa.String(200), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("used_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_api_token_person_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_api_token")),
        sa.UniqueConstraint("digest", name=op.f("uq_api_token_digest")),
    )
    with op.batch_alter_table("api_token", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_api_token_person_id"), ["person_id"], unique=False)

    op.create_table(
        "bench_hours",
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("weekday", sa.Integer(), nullable=False),
        sa.Column("hours", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_bench_hours_person_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("person_id", "weekday", name=op.f("pk_bench_hours")),
    )
    op.create_table(
        "calendar_feed",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("with_customers", sa.Boolean(), nullable=False),
        sa.Column("alarm_minutes", sa.Integer(), nullable=True),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("read_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_calendar_feed_person_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calendar_feed")),
        sa.UniqueConstraint("digest", name=op.f("uq_calendar_feed_digest")),
    )
    with op.batch_alter_table("calendar_feed", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_calendar_feed_person_id"), ["person_id"], unique=False)

    op.create_table(
        "cutting_plan",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("asked", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=False),
        sa.Column("result", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=True),
        sa.Column("fault", sa.String(300), nullable=False),
        sa.Column("stage", sa.String(120), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("started_by", sa.Integer(), nullable=False),
        sa.Column("touched_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("accepted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("accepted_by", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["accepted_by"], ["person.id"], name=op.f("fk_cutting_plan_accepted_by")),
        sa.ForeignKeyConstraint(["started_by"], ["person.id"], name=op.f("fk_cutting_plan_started_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cutting_plan")),
    )
    op.create_table(
        "day_off",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("first", sa.Date(), nullable=False),
        sa.Column("last", sa.Date(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("why", sa.String(120), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_day_off_person_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_day_off")),
    )
    with op.batch_alter_table("day_off", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_day_off_person_id"), ["person_id"], unique=False)
        batch_op.create_index("ix_day_off_span", ["last", "first"], unique=False)

    op.create_table(
        "defect_cause",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(40), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_defect_cause_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_defect_cause")),
        sa.UniqueConstraint("name", name=op.f("uq_defect_cause_name")),
    )
    op.create_table(
        "import_draft",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("noun", sa.String(20), nullable=False),
        sa.Column("file_name", sa.String(120), nullable=False),
        sa.Column("content", sa.String(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_import_draft_person_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_import_draft")),
    )
    with op.batch_alter_table("import_draft", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_import_draft_at"), ["at"], unique=False)
        batch_op.create_index(batch_op.f("ix_import_draft_person_id"), ["person_id"], unique=False)

    op.create_table(
        "invitation",
        sa.Column("token_digest", sa.String(64), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("made_by", sa.Integer(), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["made_by"], ["person.id"], name=op.f("fk_invitation_made_by")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_invitation_person_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("token_digest", name=op.f("pk_invitation")),
    )
    with op.batch_alter_table("invitation", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_invitation_person_id"), ["person_id"], unique=False)

    op.create_table(
        "known_browser",
        sa.Column("token_digest", sa.String(64), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("seen_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_known_browser_person_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("token_digest", name=op.f("pk_known_browser")),
    )
    with op.batch_alter_table("known_browser", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_known_browser_person_id"), ["person_id"], unique=False)

    op.create_table(
        "learning_reset",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("why", sa.String(300), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.Column("undoes_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_learning_reset_by")),
        sa.ForeignKeyConstraint(["undoes_id"], ["learning_reset.id"], name=op.f("fk_learning_reset_undoes_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_learning_reset")),
    )
    op.create_table(
        "print_run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("serials", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=False),
        sa.Column("units", sa.String(10), nullable=False),
        sa.Column("address", sa.String(300), nullable=False),
        sa.Column("total", sa.Integer(), nullable=False),
        sa.Column("done", sa.Integer(), nullable=False),
        sa.Column("pages", sa.Integer(), nullable=True),
        sa.Column("size", sa.Integer(), nullable=True),
        sa.Column("fault", sa.String(300), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("started_by", sa.Integer(), nullable=False),
        sa.Column("touched_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["started_by"], ["person.id"], name=op.f("fk_print_run_started_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_print_run")),
    )
    with op.batch_alter_table("print_run", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_print_run_started_at"), ["started_at"], unique=False)

    op.create_table(
        "routing_version",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("routing_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("steps", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("made_by", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["made_by"], ["person.id"], name=op.f("fk_routing_version_made_by")),
        sa.ForeignKeyConstraint(["routing_id"], ["routing.id"], name=op.f("fk_routing_version_routing_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_routing_version")),
        sa.UniqueConstraint("routing_id", "number", name=op.f("uq_routing_version_routing_id_number")),
    )
    with op.batch_alter_table("routing_version", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_routing_version_routing_id"), ["routing_id"], unique=False)

    op.create_table(
        "spare_code",
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_spare_code_person_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_spare_code")),
    )
    with op.batch_alter_table("spare_code", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_spare_code_person_id"), ["person_id"], unique=False)

    op.create_table(
        "wanted_halves",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("species_id", sa.Integer(), nullable=False),
        sa.Column("length", sa.Float(), nullable=False),
        sa.Column("width", sa.Float(), nullable=False),
        sa.Column("thickness", sa.Float(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_wanted_halves_by")),
        sa.ForeignKeyConstraint(["species_id"], ["species.id"], name=op.f("fk_wanted_halves_species_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_wanted_halves")),
    )
    with op.batch_alter_table("wanted_halves", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_wanted_halves_species_id"), ["species_id"], unique=False)

    op.create_table(
        "api_answered",
        sa.Column("token_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(120), nullable=False),
        sa.Column("asked", sa.String(64), nullable=False),
        sa.Column("status", sa.Integer(), nullable=False),
        sa.Column("location", sa.String(300), nullable=False),
        sa.Column("etag", sa.String(80), nullable=False),
        sa.Column("body", sa.String(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["token_id"], ["api_token.id"], name=op.f("fk_api_answered_token_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("token_id", "key", name=op.f("pk_api_answered")),
    )
    with op.batch_alter_table("api_answered", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_api_answered_at"), ["at"], unique=False)

    op.create_table(
        "board_flaw",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("start", sa.Float(), nullable=False),
        sa.Column("end", sa.Float(), nullable=False),
        sa.Column("near_edge", sa.Float(), nullable=True),
        sa.Column("far_edge", sa.Float(), nullable=True),
        sa.Column("what", sa.String(120), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.Column("gone_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_board_flaw_by")),
        sa.ForeignKeyConstraint(["item_id"], ["stock_item.id"], name=op.f("fk_board_flaw_item_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_board_flaw")),
    )
    with op.batch_alter_table("board_flaw", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_board_flaw_item_id"), ["item_id"], unique=False)

    op.create_table(
        "flute_supply",
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(["item_id"], ["stock_item.id"], name=op.f("fk_flute_supply_item_id")),
        sa.PrimaryKeyConstraint("item_id", name=op.f("pk_flute_supply")),
    )
    op.create_table(
        "issued_paper",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum("quote", "order confirmation", name="issuedkind", native_enum=False, length=30),
            nullable=False,
        ),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("issued_on", sa.Date(), nullable=False),
        sa.Column("valid_until", sa.Date(), nullable=True),
        sa.Column("content", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_issued_paper_by")),
        sa.ForeignKeyConstraint(["order_id"], ["customer_order.id"], name=op.f("fk_issued_paper_order_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_issued_paper")),
        sa.UniqueConstraint("order_id", "kind", "number", name=op.f("uq_issued_paper_order_id_kind_number")),
    )
    with op.batch_alter_table("issued_paper", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_issued_paper_order_id"), ["order_id"], unique=False)

    op.create_table(
        "moisture_reading",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("percent", sa.Float(), nullable=False),
        sa.Column("note", sa.String(300), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_moisture_reading_by")),
        sa.ForeignKeyConstraint(["item_id"], ["stock_item.id"], name=op.f("fk_moisture_reading_item_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_moisture_reading")),
    )
    with op.batch_alter_table("moisture_reading", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_moisture_reading_item_id"), ["item_id"], unique=False)

    op.create_table(
        "order_change",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("what", sa.String(120), nullable=False),
        sa.Column("before", sa.String(2000), nullable=False),
        sa.Column("after", sa.String(2000), nullable=False),
        sa.Column("why", sa.String(500), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_order_change_by")),
        sa.ForeignKeyConstraint(["order_id"], ["customer_order.id"], name=op.f("fk_order_change_order_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_order_change")),
    )
    with op.batch_alter_table("order_change", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_order_change_order_id"), ["order_id"], unique=False)

    op.create_table(
        "payment",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum("deposit", "payment", "refund", name="paymentkind", native_enum=False, length=30),
            nullable=False,
        ),
        sa.Column("amount", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=False),
        sa.Column("currency", sa.String(3), nullable=False),
        sa.Column(
            "paid_by",
            sa.Enum("cash", "card", "bank transfer", "check", "other", name="paidby", native_enum=False, length=30),
            nullable=False,
        ),
        sa.Column("paid_on", sa.Date(), nullable=False),
        sa.Column("reference", sa.String(120), nullable=False),
        sa.Column("note", sa.String(500), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.Column("corrects_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_payment_by")),
        sa.ForeignKeyConstraint(["corrects_id"], ["payment.id"], name=op.f("fk_payment_corrects_id")),
        sa.ForeignKeyConstraint(["order_id"], ["customer_order.id"], name=op.f("fk_payment_order_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_payment")),
        sa.UniqueConstraint("corrects_id", name=op.f("uq_payment_corrects_id")),
    )
    with op.batch_alter_table("payment", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_payment_order_id"), ["order_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_payment_paid_on"), ["paid_on"], unique=False)

    op.create_table(
        "printed_file",
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("pdf", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["run_id"], ["print_run.id"], name=op.f("fk_printed_file_run_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("run_id", name=op.f("pk_printed_file")),
    )
    op.create_table(
        "promise",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=False),
        sa.Column(
            "kind", sa.Enum("likely", "safe", "own", name="promisekind", native_enum=False, length=30), nullable=False
        ),
        sa.Column("earliest", sa.Date(), nullable=True),
        sa.Column("likely", sa.Date(), nullable=True),
        sa.Column("safe", sa.Date(), nullable=True),
        sa.Column("words", sa.String(600), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_promise_by")),
        sa.ForeignKeyConstraint(["order_id"], ["customer_order.id"], name=op.f("fk_promise_order_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_promise")),
    )
    with op.batch_alter_table("promise", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_promise_order_id"), ["order_id"], unique=False)

    op.create_table(
        "sawing",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("board_id", sa.Integer(), nullable=False),
        sa.Column("plan_id", sa.Integer(), nullable=True),
        sa.Column("plan_cut", sa.Integer(), nullable=True),
        sa.Column("length_before", sa.Float(), nullable=False),
        sa.Column("length_after", sa.Float(), nullable=False),
        sa.Column("cost", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=False),
        sa.Column("sawn_volume", sa.Float(), nullable=False),
        sa.Column("piece_volume", sa.Float(), nullable=False),
        sa.Column("note", sa.String(500), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["board_id"], ["stock_item.id"], name=op.f("fk_sawing_board_id")),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_sawing_by")),
        sa.ForeignKeyConstraint(["plan_id"], ["cutting_plan.id"], name=op.f("fk_sawing_plan_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sawing")),
    )
    with op.batch_alter_table("sawing", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sawing_board_id"), ["board_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_sawing_plan_id"), ["plan_id"], unique=False)

    op.create_table(
        "glue_lot",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("adhesive_id", sa.Integer(), nullable=False),
        sa.Column("lot", sa.String(60), nullable=False),
        sa.Column("best_before", sa.Date(), nullable=True),
        sa.Column("empty", sa.Boolean(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["adhesive_id"], ["adhesive.id"], name=op.f("fk_glue_lot_adhesive_id")),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_glue_lot_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_glue_lot")),
        sa.UniqueConstraint("adhesive_id", "lot", name=op.f("uq_glue_lot_adhesive_id_lot")),
    )
    with op.batch_alter_table("glue_lot", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_glue_lot_adhesive_id"), ["adhesive_id"], unique=False)

    op.create_table(
        "sawn_lot",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sawing_id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("cost", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=False),
        sa.ForeignKeyConstraint(["item_id"], ["stock_item.id"], name=op.f("fk_sawn_lot_item_id")),
        sa.ForeignKeyConstraint(["sawing_id"], ["sawing.id"], name=op.f("fk_sawn_lot_sawing_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sawn_lot")),
    )
    with op.batch_alter_table("sawn_lot", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sawn_lot_item_id"), ["item_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_sawn_lot_sawing_id"), ["sawing_id"], unique=False)

    op.create_table(
        "chosen_option",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("ordered_flute_id", sa.Integer(), nullable=False),
        sa.Column("option_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("price", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=False),
        sa.Column("materials", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=False),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["option_id"], ["flute_option.id"], name=op.f("fk_chosen_option_option_id")),
        sa.ForeignKeyConstraint(
            ["ordered_flute_id"],
            ["ordered_flute.id"],
            name=op.f("fk_chosen_option_ordered_flute_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_chosen_option")),
    )
    with op.batch_alter_table("chosen_option", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_chosen_option_option_id"), ["option_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_chosen_option_ordered_flute_id"), ["ordered_flute_id"], unique=False)

    op.create_table(
        "blank_minutes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("blank_id", sa.Integer(), nullable=False),
        sa.Column(
            "stage",
            sa.Enum(
                "boring", "gluing", "flue", "voicing", "tuning", "finishing", name="stage", native_enum=False, length=30
            ),
            nullable=False,
        ),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.Column("why", sa.String(300), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_blank_minutes_blank_id")),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_blank_minutes_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_blank_minutes")),
    )
    with op.batch_alter_table("blank_minutes", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_blank_minutes_blank_id"), ["blank_id"], unique=False)

    op.create_table(
        "defect",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("blank_id", sa.Integer(), nullable=False),
        sa.Column("cause", sa.String(40), nullable=False),
        sa.Column("grave", sa.Boolean(), nullable=False),
        sa.Column(
            "stage",
            sa.Enum(
                "boring", "gluing", "flue", "voicing", "tuning", "finishing", name="stage", native_enum=False, length=30
            ),
            nullable=False,
        ),
        sa.Column("start", sa.Float(), nullable=True),
        sa.Column("end", sa.Float(), nullable=True),
        sa.Column("what", sa.String(500), nullable=False),
        sa.Column("is_open", sa.Boolean(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_defect_blank_id")),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_defect_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_defect")),
    )
    with op.batch_alter_table("defect", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_defect_blank_id"), ["blank_id"], unique=False)
        batch_op.create_index("ix_defect_found", ["at", "cause"], unique=False)
        batch_op.create_index("ix_defect_open", ["is_open", "blank_id"], unique=False)

    op.create_table(
        "evidence",
        sa.Column("blank_id", sa.Integer(), nullable=False),
        sa.Column("based_on", sa.String(64), nullable=False),
        sa.Column("document", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=True),
        sa.Column("fault", sa.String(300), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_evidence_blank_id")),
        sa.PrimaryKeyConstraint("blank_id", name=op.f("pk_evidence")),
    )
    op.create_table(
        "learning_choice",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("blank_id", sa.Integer(), nullable=False),
        sa.Column("counts", sa.Boolean(), nullable=False),
        sa.Column("why", sa.String(300), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_learning_choice_blank_id")),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_learning_choice_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_learning_choice")),
    )
    with op.batch_alter_table("learning_choice", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_learning_choice_blank_id"), ["blank_id"], unique=False)

    op.create_table(
        "repair",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum("repair", "retuning", "check over", name="repairkind", native_enum=False, length=30),
            nullable=False,
        ),
        sa.Column("blank_id", sa.Integer(), nullable=True),
        sa.Column("described", sa.String(500), nullable=False),
        sa.Column("asked", sa.String(1000), nullable=False),
        sa.Column("price", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=False),
        sa.Column("begun_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column(
            "came_as",
            sa.Enum("in work", "finished", "handed over", "firewood", name="blankstatus", native_enum=False, length=30),
            nullable=True,
        ),
        sa.Column("built_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("found", sa.String(1000), nullable=False),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_repair_blank_id")),
        sa.ForeignKeyConstraint(["order_id"], ["customer_order.id"], name=op.f("fk_repair_order_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_repair")),
    )
    with op.batch_alter_table("repair", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_repair_blank_id"), ["blank_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_repair_order_id"), ["order_id"], unique=False)

    op.create_table(
        "defect_decision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("defect_id", sa.Integer(), nullable=False),
        sa.Column(
            "decided",
            sa.Enum(
                "fill",
                "shorten",
                "another key",
                "firewood",
                "leave it",
                "no defect",
                name="defectchoice",
                native_enum=False,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("why", sa.String(500), nullable=False),
        sa.Column("from_revision_id", sa.Integer(), nullable=True),
        sa.Column("to_revision_id", sa.Integer(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_defect_decision_by")),
        sa.ForeignKeyConstraint(["defect_id"], ["defect.id"], name=op.f("fk_defect_decision_defect_id")),
        sa.ForeignKeyConstraint(
            ["from_revision_id"], ["pattern_revision.id"], name=op.f("fk_defect_decision_from_revision_id")
        ),
        sa.ForeignKeyConstraint(
            ["to_revision_id"], ["pattern_revision.id"], name=op.f("fk_defect_decision_to_revision_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_defect_decision")),
    )
    with op.batch_alter_table("defect_decision", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_defect_decision_defect_id"), ["defect_id"], unique=False)

    op.create_table(
        "photo",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Enum("picture", "paper", name="filekind", native_enum=False, length=30), nullable=False),
        sa.Column("blank_id", sa.Integer(), nullable=True),
        sa.Column("step_id", sa.Integer(), nullable=True),
        sa.Column("defect_id", sa.Integer(), nullable=True),
        sa.Column("item_id", sa.Integer(), nullable=True),
        sa.Column("file_name", sa.String(40), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=True),
        sa.Column("height", sa.Integer(), nullable=True),
        sa.Column("pages", sa.Integer(), nullable=True),
        sa.Column("caption", sa.String(200), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.Column("taken_back_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("taken_back_by", sa.Integer(), nullable=True),
        sa.Column("taken_back_why", sa.String(300), nullable=False),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_photo_blank_id")),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_photo_by")),
        sa.ForeignKeyConstraint(["defect_id"], ["defect.id"], name=op.f("fk_photo_defect_id")),
        sa.ForeignKeyConstraint(["item_id"], ["stock_item.id"], name=op.f("fk_photo_item_id")),
        sa.ForeignKeyConstraint(["step_id"], ["blank_step.id"], name=op.f("fk_photo_step_id")),
        sa.ForeignKeyConstraint(["taken_back_by"], ["person.id"], name=op.f("fk_photo_taken_back_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
        sa.UniqueConstraint("file_name", name=op.f("uq_photo_file_name")),
    )
    with op.batch_alter_table("photo", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_photo_blank_id"), ["blank_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_photo_defect_id"), ["defect_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_photo_item_id"), ["item_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_photo_step_id"), ["step_id"], unique=False)

    with op.batch_alter_table("adhesive", schema=None) as batch_op:
        batch_op.add_column(sa.Column("at_temperature", sa.Float(), server_default="20", nullable=False))
        batch_op.add_column(sa.Column("at_moisture", sa.Float(), server_default="8", nullable=False))
        batch_op.add_column(sa.Column("slower_when_cold", sa.Float(), server_default="1.5", nullable=False))
        batch_op.add_column(sa.Column("slower_when_damp", sa.Float(), server_default="1.15", nullable=False))
        batch_op.add_column(sa.Column("driest_wood", sa.Float(), server_default="6", nullable=False))
        batch_op.add_column(sa.Column("dampest_wood", sa.Float(), server_default="12", nullable=False))
        batch_op.add_column(sa.Column("most_apart", sa.Float(), server_default="2", nullable=False))
        batch_op.add_column(sa.Column("driest_air", sa.Float(), server_default="30", nullable=False))
        batch_op.add_column(sa.Column("spread_rate", sa.Float(), server_default="180", nullable=False))
        batch_op.add_column(sa.Column("density", sa.Float(), server_default="1.1", nullable=False))
        batch_op.add_column(sa.Column("as_on_label", sa.Boolean(), server_default="0", nullable=False))

    with op.batch_alter_table("blank", schema=None) as batch_op:
        batch_op.add_column(sa.Column("hands_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("routing_version_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("defects_open", sa.Integer(), server_default="0", nullable=False))
        batch_op.add_column(sa.Column("grave_defect", sa.Boolean(), server_default="0", nullable=False))
        batch_op.create_index("ix_blank_finished", ["finished_at", "id"], unique=False)
        batch_op.create_index("ix_blank_hands", ["hands_id", "status", "stage", "due_on", "id"], unique=False)
        batch_op.create_index("ix_blank_keyed", ["status", "key", "stage", "due_on", "id"], unique=False)
        batch_op.create_index("ix_blank_wood", ["status", "species_id", "stage", "due_on", "id"], unique=False)
        batch_op.create_foreign_key(batch_op.f("fk_blank_hands_id"), "person", ["hands_id"], ["id"])
        batch_op.create_foreign_key(
            batch_op.f("fk_blank_routing_version_id"), "routing_version", ["routing_version_id"], ["id"]
        )

    with op.batch_alter_table("blank_step", schema=None) as batch_op:
        batch_op.add_column(sa.Column("photo", sa.Boolean(), server_default="0", nullable=False))
        batch_op.add_column(sa.Column("repair_id", sa.Integer(), nullable=True))
        batch_op.create_index(batch_op.f("ix_blank_step_repair_id"), ["repair_id"], unique=False)
        batch_op.create_foreign_key(batch_op.f("fk_blank_step_repair_id"), "repair", ["repair_id"], ["id"])

    with op.batch_alter_table("customer", schema=None) as batch_op:
        batch_op.add_column(sa.Column("address", sa.String(400), server_default="", nullable=False))

    with op.batch_alter_table("customer_order", schema=None) as batch_op:
        batch_op.add_column(
            sa.Column(
                "postage",
                sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"),
                server_default="0",
                nullable=False,
            )
        )
        batch_op.add_column(sa.Column("tax_name", sa.String(40), nullable=True))
        batch_op.add_column(sa.Column("tax_percent", sa.String(20), nullable=True))
        batch_op.add_column(sa.Column("tax_included", sa.Boolean(), nullable=True))
        batch_op.add_column(
            sa.Column("deposit", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=True)
        )
        batch_op.add_column(sa.Column("status_digest", sa.String(64), nullable=True))
        batch_op.add_column(sa.Column("status_since", sa.DateTime(timezone=True), nullable=True))
        batch_op.create_unique_constraint(batch_op.f("uq_customer_order_status_digest"), ["status_digest"])

    with op.batch_alter_table("glue_up", schema=None) as batch_op:
        batch_op.add_column(sa.Column("humidity", sa.Float(), nullable=True))
        batch_op.add_column(sa.Column("warned", sa.String(1000), server_default="", nullable=False))
        batch_op.add_column(sa.Column("why", sa.String(300), server_default="", nullable=False))
        batch_op.add_column(sa.Column("why_late", sa.String(300), server_default="", nullable=False))

    with op.batch_alter_table("glued_blank", schema=None) as batch_op:
        batch_op.add_column(sa.Column("moisture_one", sa.Float(), nullable=True))
        batch_op.add_column(sa.Column("moisture_other", sa.Float(), nullable=True))
        batch_op.add_column(sa.Column("glue", sa.Float(), nullable=True))
        batch_op.add_column(sa.Column("place", sa.Integer(), nullable=True))

    with op.batch_alter_table("ordered_flute", schema=None) as batch_op:
        batch_op.add_column(
            sa.Column("built_up", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=True)
        )
        batch_op.add_column(sa.Column("price_why", sa.String(300), server_default="", nullable=False))

    with op.batch_alter_table("pattern", schema=None) as batch_op:
        batch_op.add_column(sa.Column("routing_id", sa.Integer(), nullable=True))
        batch_op.create_foreign_key(batch_op.f("fk_pattern_routing_id"), "routing", ["routing_id"], ["id"])

    with op.batch_alter_table("person", schema=None) as batch_op:
        batch_op.add_column(sa.Column("by_drills", sa.Boolean(), nullable=True))
        batch_op.add_column(sa.Column("code_secret", sa.String(300), nullable=True))
        batch_op.add_column(sa.Column("code_used", sa.Integer(), server_default="0", nullable=False))

    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.add_column(sa.Column("awaits_code", sa.Boolean(), server_default="0", nullable=False))
        batch_op.add_column(sa.Column("device", sa.String(60), server_default="", nullable=False))

    with op.batch_alter_table("species", schema=None) as batch_op:
        batch_op.add_column(sa.Column("reckoned_as", sa.String(40), nullable=True))

    with op.batch_alter_table("stock_item", schema=None) as batch_op:
        batch_op.add_column(sa.Column("source", sa.String(120), server_default="", nullable=False))
        batch_op.add_column(sa.Column("papers", sa.String(500), server_default="", nullable=False))
        batch_op.add_column(sa.Column("usual_order", sa.Float(), nullable=True))

    with op.batch_alter_table("stock_movement", schema=None) as batch_op:
        batch_op.add_column(
            sa.Column("unit_cost", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=True)
        )


def downgrade() -> None:
    with op.batch_alter_table("stock_movement", schema=None) as batch_op:
        batch_op.drop_column("unit_cost")

    with op.batch_alter_table("stock_item", schema=None) as batch_op:
        batch_op.drop_column("usual_order")
        batch_op.drop_column("papers")
        batch_op.drop_column("source")

    with op.batch_alter_table("species", schema=None) as batch_op:
        batch_op.drop_column("reckoned_as")

    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.drop_column("device")
        batch_op.drop_column("awaits_code")

    with op.batch_alter_table("person", schema=None) as batch_op:
        batch_op.drop_column("code_used")
        batch_op.drop_column("code_secret")
        batch_op.drop_column("by_drills")

    with op.batch_alter_table("pattern", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("fk_pattern_routing_id"), type_="foreignkey")
        batch_op.drop_column("routing_id")

    with op.batch_alter_table("ordered_flute", schema=None) as batch_op:
        batch_op.drop_column("price_why")
        batch_op.drop_column("built_up")

    with op.batch_alter_table("glued_blank", schema=None) as batch_op:
        batch_op.drop_column("place")
        batch_op.drop_column("glue")
        batch_op.drop_column("moisture_other")
        batch_op.drop_column("moisture_one")

    with op.batch_alter_table("glue_up", schema=None) as batch_op:
        batch_op.drop_column("why_late")
        batch_op.drop_column("why")
        batch_op.drop_column("warned")
        batch_op.drop_column("humidity")

    with op.batch_alter_table("customer_order", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("uq_customer_order_status_digest"), type_="unique")
        batch_op.drop_column("status_since")
        batch_op.drop_column("status_digest")
        batch_op.drop_column("deposit")
        batch_op.drop_column("tax_included")
        batch_op.drop_column("tax_percent")
        batch_op.drop_column("tax_name")
        batch_op.drop_column("postage")

    with op.batch_alter_table("customer", schema=None) as batch_op:
        batch_op.drop_column("address")

    with op.batch_alter_table("blank_step", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("fk_blank_step_repair_id"), type_="foreignkey")
        batch_op.drop_index(batch_op.f("ix_blank_step_repair_id"))
        batch_op.drop_column("repair_id")
        batch_op.drop_column("photo")

    with op.batch_alter_table("blank", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("fk_blank_routing_version_id"), type_="foreignkey")
        batch_op.drop_constraint(batch_op.f("fk_blank_hands_id"), type_="foreignkey")
        batch_op.drop_index("ix_blank_wood")
        batch_op.drop_index("ix_blank_keyed")
        batch_op.drop_index("ix_blank_hands")
        batch_op.drop_index("ix_blank_finished")
        batch_op.drop_column("grave_defect")
        batch_op.drop_column("defects_open")
        batch_op.drop_column("routing_version_id")
        batch_op.drop_column("hands_id")

    with op.batch_alter_table("adhesive", schema=None) as batch_op:
        batch_op.drop_column("as_on_label")
        batch_op.drop_column("density")
        batch_op.drop_column("spread_rate")
        batch_op.drop_column("driest_air")
        batch_op.drop_column("most_apart")
        batch_op.drop_column("dampest_wood")
        batch_op.drop_column("driest_wood")
        batch_op.drop_column("slower_when_damp")
        batch_op.drop_column("slower_when_cold")
        batch_op.drop_column("at_moisture")
        batch_op.drop_column("at_temperature")

    with op.batch_alter_table("photo", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_photo_step_id"))
        batch_op.drop_index(batch_op.f("ix_photo_item_id"))
        batch_op.drop_index(batch_op.f("ix_photo_defect_id"))
        batch_op.drop_index(batch_op.f("ix_photo_blank_id"))

    op.drop_table("photo")
    with op.batch_alter_table("defect_decision", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_defect_decision_defect_id"))

    op.drop_table("defect_decision")
    with op.batch_alter_table("repair", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_repair_order_id"))
        batch_op.drop_index(batch_op.f("ix_repair_blank_id"))

    op.drop_table("repair")
    with op.batch_alter_table("learning_choice", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_learning_choice_blank_id"))

    op.drop_table("learning_choice")
    op.drop_table("evidence")
    with op.batch_alter_table("defect", schema=None) as batch_op:
        batch_op.drop_index("ix_defect_open")
        batch_op.drop_index("ix_defect_found")
        batch_op.drop_index(batch_op.f("ix_defect_blank_id"))

    op.drop_table("defect")
    with op.batch_alter_table("blank_minutes", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_blank_minutes_blank_id"))

    op.drop_table("blank_minutes")
    with op.batch_alter_table("chosen_option", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_chosen_option_ordered_flute_id"))
        batch_op.drop_index(batch_op.f("ix_chosen_option_option_id"))

    op.drop_table("chosen_option")
    with op.batch_alter_table("sawn_lot", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sawn_lot_sawing_id"))
        batch_op.drop_index(batch_op.f("ix_sawn_lot_item_id"))

    op.drop_table("sawn_lot")
    with op.batch_alter_table("glue_lot", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_glue_lot_adhesive_id"))

    op.drop_table("glue_lot")
    with op.batch_alter_table("sawing", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sawing_plan_id"))
        batch_op.drop_index(batch_op.f("ix_sawing_board_id"))

    op.drop_table("sawing")
    with op.batch_alter_table("promise", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_promise_order_id"))

    op.drop_table("promise")
    op.drop_table("printed_file")
    with op.batch_alter_table("payment", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_payment_paid_on"))
        batch_op.drop_index(batch_op.f("ix_payment_order_id"))

    op.drop_table("payment")
    with op.batch_alter_table("order_change", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_order_change_order_id"))

    op.drop_table("order_change")
    with op.batch_alter_table("moisture_reading", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_moisture_reading_item_id"))

    op.drop_table("moisture_reading")
    with op.batch_alter_table("issued_paper", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_issued_paper_order_id"))

    op.drop_table("issued_paper")
    op.drop_table("flute_supply")
    with op.batch_alter_table("board_flaw", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_board_flaw_item_id"))

    op.drop_table("board_flaw")
    with op.batch_alter_table("api_answered", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_api_answered_at"))

    op.drop_table("api_answered")
    with op.batch_alter_table("wanted_halves", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_wanted_halves_species_id"))

    op.drop_table("wanted_halves")
    with op.batch_alter_table("spare_code", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_spare_code_person_id"))

    op.drop_table("spare_code")
    with op.batch_alter_table("routing_version", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_routing_version_routing_id"))

    op.drop_table("routing_version")
    with op.batch_alter_table("print_run", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_print_run_started_at"))

    op.drop_table("print_run")
    op.drop_table("learning_reset")
    with op.batch_alter_table("known_browser", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_known_browser_person_id"))

    op.drop_table("known_browser")
    with op.batch_alter_table("invitation", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_invitation_person_id"))

    op.drop_table("invitation")
    with op.batch_alter_table("import_draft", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_import_draft_person_id"))
        batch_op.drop_index(batch_op.f("ix_import_draft_at"))

    op.drop_table("import_draft")
    op.drop_table("defect_cause")
    with op.batch_alter_table("day_off", schema=None) as batch_op:
        batch_op.drop_index("ix_day_off_span")
        batch_op.drop_index(batch_op.f("ix_day_off_person_id"))

    op.drop_table("day_off")
    op.drop_table("cutting_plan")
    with op.batch_alter_table("calendar_feed", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_calendar_feed_person_id"))

    op.drop_table("calendar_feed")
    op.drop_table("bench_hours")
    with op.batch_alter_table("api_token", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_api_token_person_id"))

    op.drop_table("api_token")
    op.drop_table("workshop")
    op.drop_table("stage_rate")
    op.drop_table("stage_minutes")
    op.drop_table("search_row")
    op.drop_table("routing")
    op.drop_table("pricing")
    op.drop_table("learnt")
    with op.batch_alter_table("forecast", schema=None) as batch_op:
        batch_op.drop_index("ix_forecast_latest")

    op.drop_table("forecast")
    op.drop_table("flute_option")
    with op.batch_alter_table("failed_try", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_failed_try_name_digest"))
        batch_op.drop_index(batch_op.f("ix_failed_try_known_digest"))
        batch_op.drop_index(batch_op.f("ix_failed_try_at"))
        batch_op.drop_index(batch_op.f("ix_failed_try_address_digest"))

    op.drop_table("failed_try")
    op.drop_table("chore")
    op.drop_table("change_count")
