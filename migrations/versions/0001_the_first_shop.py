"""the first shop."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "customer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("sought", sa.String(400), nullable=False),
        sa.Column("contact", sa.String(200), nullable=False),
        sa.Column("note", sa.String(2000), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_customer")),
    )
    with op.batch_alter_table("customer", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_customer_name"), ["name"], unique=False)
        batch_op.create_index(batch_op.f("ix_customer_sought"), ["sought"], unique=False)

    op.create_table(
        "drill",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("diameter", sa.Float(), nullable=False),
        sa.Column("label", sa.String(30), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_drill")),
        sa.UniqueConstraint("diameter", name=op.f("uq_drill_diameter")),
    )
    op.create_table(
        "pattern",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("key", sa.String(4), nullable=False),
        sa.Column("scale", sa.String(30), nullable=False),
        sa.Column("holes", sa.Integer(), nullable=False),
        sa.Column("a4", sa.Float(), nullable=False),
        sa.Column("temperament", sa.String(20), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pattern")),
        sa.UniqueConstraint("name", name=op.f("uq_pattern_name")),
    )
    with op.batch_alter_table("pattern", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_pattern_key"), ["key"], unique=False)

    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("sign_in_name", sa.String(80), nullable=False),
        sa.Column("password_hash", sa.String(200), nullable=False),
        sa.Column(
            "role",
            sa.Enum("owner", "maker", "office", "viewer", name="role", native_enum=False, length=30),
            nullable=False,
        ),
        sa.Column("units", sa.Enum("inch", "mm", name="units", native_enum=False, length=30), nullable=True),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("sign_in_name", name=op.f("uq_person_sign_in_name")),
    )
    op.create_table(
        "shop",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("is_demo", sa.Boolean(), nullable=False),
        sa.Column("units", sa.Enum("inch", "mm", name="units", native_enum=False, length=30), nullable=False),
        sa.Column("paper", sa.Enum("letter", "A4", name="paper", native_enum=False, length=30), nullable=False),
        sa.Column("currency", sa.String(3), nullable=False),
        sa.Column("timezone", sa.String(64), nullable=False),
        sa.Column("a4", sa.Float(), nullable=False),
        sa.Column("played_temperature", sa.Float(), nullable=False),
        sa.Column("played_humidity", sa.Float(), nullable=False),
        sa.Column("played_co2", sa.Float(), nullable=False),
        sa.Column("bench_temperature", sa.Float(), nullable=False),
        sa.Column("bench_humidity", sa.Float(), nullable=False),
        sa.Column("tolerance_cents", sa.Float(), nullable=False),
        sa.Column("fundamental_low_cents", sa.Float(), nullable=False),
        sa.Column("clamp_places", sa.Integer(), nullable=False),
        sa.Column("serial_prefix", sa.String(8), nullable=False),
        sa.Column("next_serial", sa.Integer(), nullable=False),
        sa.Column("next_order", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shop")),
    )
    op.create_table(
        "species",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(60), nullable=False),
        sa.Column("colour", sa.String(7), nullable=False),
        sa.Column("sensitising", sa.Boolean(), nullable=False),
        sa.Column("restricted", sa.Boolean(), nullable=False),
        sa.Column("what_to_check", sa.String(500), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_species")),
        sa.UniqueConstraint("name", name=op.f("uq_species_name")),
    )
    op.create_table(
        "customer_order",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("customer_id", sa.Integer(), nullable=False),
        sa.Column(
            "status",
            sa.Enum(
                "enquiry",
                "quoted",
                "confirmed",
                "in the shop",
                "ready",
                "handed over",
                "withdrawn",
                name="orderstatus",
                native_enum=False,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("taken_on", sa.Date(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("currency", sa.String(3), nullable=False),
        sa.Column("note", sa.String(2000), nullable=False),
        sa.Column("handed_over_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["customer_id"], ["customer.id"], name=op.f("fk_customer_order_customer_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_customer_order")),
        sa.UniqueConstraint("number", name=op.f("uq_customer_order_number")),
    )
    with op.batch_alter_table("customer_order", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_customer_order_customer_id"), ["customer_id"], unique=False)
        batch_op.create_index("ix_customer_order_due", ["status", "due_on"], unique=False)
        batch_op.create_index(batch_op.f("ix_customer_order_due_on"), ["due_on"], unique=False)
        batch_op.create_index("ix_customer_order_newest", ["status", "number"], unique=False)

    op.create_table(
        "event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=True),
        sa.Column("subject", sa.String(20), nullable=False),
        sa.Column("subject_id", sa.Integer(), nullable=False),
        sa.Column("what", sa.String(300), nullable=False),
        sa.Column("why", sa.String(1000), nullable=False),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_event_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_event")),
    )
    with op.batch_alter_table("event", schema=None) as batch_op:
        batch_op.create_index("ix_event_subject_subject_id", ["subject", "subject_id"], unique=False)

    op.create_table(
        "pattern_revision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("pattern_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("instrument", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=False),
        sa.Column("request", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=False),
        sa.Column("notes", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=False),
        sa.Column("warnings", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=False),
        sa.Column("note", sa.String(2000), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("made_by", sa.Integer(), nullable=False),
        sa.Column("proven_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("proven_by", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["made_by"], ["person.id"], name=op.f("fk_pattern_revision_made_by")),
        sa.ForeignKeyConstraint(["pattern_id"], ["pattern.id"], name=op.f("fk_pattern_revision_pattern_id")),
        sa.ForeignKeyConstraint(["proven_by"], ["person.id"], name=op.f("fk_pattern_revision_proven_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pattern_revision")),
        sa.UniqueConstraint("pattern_id", "number", name=op.f("uq_pattern_revision_pattern_id_number")),
    )
    with op.batch_alter_table("pattern_revision", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_pattern_revision_pattern_id"), ["pattern_id"], unique=False)

    op.create_table(
        "sign_in",
        sa.Column("token_digest", sa.String(64), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("seen_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_sign_in_person_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("token_digest", name=op.f("pk_sign_in")),
    )
    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sign_in_expires_at"), ["expires_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_sign_in_person_id"), ["person_id"], unique=False)

    op.create_table(
        "stock_item",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "board",
                "halves",
                "block blank",
                "glue",
                "finish",
                "cord",
                name="stockkind",
                native_enum=False,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("species_id", sa.Integer(), nullable=True),
        sa.Column("unit", sa.String(10), nullable=False),
        sa.Column("length", sa.Float(), nullable=True),
        sa.Column("width", sa.Float(), nullable=True),
        sa.Column("thickness", sa.Float(), nullable=True),
        sa.Column("moisture", sa.Float(), nullable=True),
        sa.Column("unit_cost", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=False),
        sa.Column("reorder_at", sa.Float(), nullable=True),
        sa.Column("place", sa.String(60), nullable=False),
        sa.Column("used_up", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["species_id"], ["species.id"], name=op.f("fk_stock_item_species_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_item")),
    )
    with op.batch_alter_table("stock_item", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stock_item_kind"), ["kind"], unique=False)
        batch_op.create_index(batch_op.f("ix_stock_item_species_id"), ["species_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_stock_item_used_up"), ["used_up"], unique=False)

    op.create_table(
        "submission",
        sa.Column("key", sa.String(40), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("went_to", sa.String(1000), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_submission_person_id")),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_submission")),
    )
    with op.batch_alter_table("submission", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_submission_at"), ["at"], unique=False)

    op.create_table(
        "adhesive",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(60), nullable=False),
        sa.Column("open_minutes", sa.Integer(), nullable=False),
        sa.Column("clamp_minutes", sa.Integer(), nullable=False),
        sa.Column("cure_minutes", sa.Integer(), nullable=False),
        sa.Column("lowest_temperature", sa.Float(), nullable=False),
        sa.Column("note", sa.String(500), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["item_id"], ["stock_item.id"], name=op.f("fk_adhesive_item_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_adhesive")),
        sa.UniqueConstraint("name", name=op.f("uq_adhesive_name")),
    )
    op.create_table(
        "ordered_flute",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(4), nullable=False),
        sa.Column("scale", sa.String(30), nullable=False),
        sa.Column("holes", sa.Integer(), nullable=False),
        sa.Column("a4", sa.Float(), nullable=False),
        sa.Column("temperament", sa.String(20), nullable=False),
        sa.Column("species_id", sa.Integer(), nullable=False),
        sa.Column("reach", sa.Float(), nullable=True),
        sa.Column("extras", sa.String(1000), nullable=False),
        sa.Column("price", sa.String(20).with_variant(sa.Numeric(14, 2), "postgresql"), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["order_id"], ["customer_order.id"], name=op.f("fk_ordered_flute_order_id")),
        sa.ForeignKeyConstraint(["revision_id"], ["pattern_revision.id"], name=op.f("fk_ordered_flute_revision_id")),
        sa.ForeignKeyConstraint(["species_id"], ["species.id"], name=op.f("fk_ordered_flute_species_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ordered_flute")),
    )
    with op.batch_alter_table("ordered_flute", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_ordered_flute_key"), ["key"], unique=False)
        batch_op.create_index(batch_op.f("ix_ordered_flute_order_id"), ["order_id"], unique=False)

    op.create_table(
        "spread_run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("tolerances", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=False),
        sa.Column("tolerance_cents", sa.Float(), nullable=False),
        sa.Column("flutes", sa.Integer(), nullable=False),
        sa.Column("done", sa.Integer(), nullable=False),
        sa.Column("result", sa.JSON().with_variant(postgresql.JSONB(), "postgresql"), nullable=True),
        sa.Column("fault", sa.String(300), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("started_by", sa.Integer(), nullable=False),
        sa.Column("touched_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["revision_id"], ["pattern_revision.id"], name=op.f("fk_spread_run_revision_id")),
        sa.ForeignKeyConstraint(["started_by"], ["person.id"], name=op.f("fk_spread_run_started_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_spread_run")),
    )
    with op.batch_alter_table("spread_run", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_spread_run_revision_id"), ["revision_id"], unique=False)

    op.create_table(
        "blank",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("serial", sa.String(20), nullable=False),
        sa.Column("ordered_flute_id", sa.Integer(), nullable=True),
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("species_id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=True),
        sa.Column("key", sa.String(4), nullable=False),
        sa.Column(
            "status",
            sa.Enum("in work", "finished", "handed over", "firewood", name="blankstatus", native_enum=False, length=30),
            nullable=False,
        ),
        sa.Column(
            "stage",
            sa.Enum(
                "boring", "gluing", "flue", "voicing", "tuning", "finishing", name="stage", native_enum=False, length=30
            ),
            nullable=False,
        ),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("waits_for", sa.String(20), nullable=True),
        sa.Column("waits_until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("next_name", sa.String(80), nullable=True),
        sa.Column(
            "next_kind",
            sa.Enum(
                "work",
                "gauge",
                "glue-up",
                "cure",
                "coat",
                "fundamental",
                "readings",
                name="stepkind",
                native_enum=False,
                length=30,
            ),
            nullable=True,
        ),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("opened_by", sa.Integer(), nullable=False),
        sa.Column("finished_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["item_id"], ["stock_item.id"], name=op.f("fk_blank_item_id")),
        sa.ForeignKeyConstraint(["opened_by"], ["person.id"], name=op.f("fk_blank_opened_by")),
        sa.ForeignKeyConstraint(["ordered_flute_id"], ["ordered_flute.id"], name=op.f("fk_blank_ordered_flute_id")),
        sa.ForeignKeyConstraint(["revision_id"], ["pattern_revision.id"], name=op.f("fk_blank_revision_id")),
        sa.ForeignKeyConstraint(["species_id"], ["species.id"], name=op.f("fk_blank_species_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_blank")),
        sa.UniqueConstraint("serial", name=op.f("uq_blank_serial")),
    )
    with op.batch_alter_table("blank", schema=None) as batch_op:
        batch_op.create_index("ix_blank_built", ["revision_id", "status"], unique=False)
        batch_op.create_index("ix_blank_due", ["status", "due_on", "id"], unique=False)
        batch_op.create_index(batch_op.f("ix_blank_key"), ["key"], unique=False)
        batch_op.create_index("ix_blank_next", ["status", "next_kind", "due_on", "id", "waits_for"], unique=False)
        batch_op.create_index(batch_op.f("ix_blank_ordered_flute_id"), ["ordered_flute_id"], unique=False)
        batch_op.create_index("ix_blank_shelf", ["status", "stage", "due_on", "id", "waits_for"], unique=False)
        batch_op.create_index(batch_op.f("ix_blank_species_id"), ["species_id"], unique=False)
        batch_op.create_index("ix_blank_waits", ["waits_for", "waits_until"], unique=False)
        batch_op.create_index(batch_op.f("ix_blank_waits_until"), ["waits_until"], unique=False)

    op.create_table(
        "glue_up",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("adhesive_id", sa.Integer(), nullable=False),
        sa.Column("lot", sa.String(60), nullable=False),
        sa.Column("temperature", sa.Float(), nullable=False),
        sa.Column("open_minutes", sa.Integer(), nullable=False),
        sa.Column("clamp_minutes", sa.Integer(), nullable=False),
        sa.Column("cure_minutes", sa.Integer(), nullable=False),
        sa.Column("spread_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("clamped_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("out_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("cured_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("note", sa.String(500), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["adhesive_id"], ["adhesive.id"], name=op.f("fk_glue_up_adhesive_id")),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_glue_up_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_glue_up")),
    )
    with op.batch_alter_table("glue_up", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_glue_up_out_at"), ["out_at"], unique=False)

    op.create_table(
        "blank_step",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("blank_id", sa.Integer(), nullable=False),
        sa.Column(
            "stage",
            sa.Enum(
                "boring", "gluing", "flue", "voicing", "tuning", "finishing", name="stage", native_enum=False, length=30
            ),
            nullable=False,
        ),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(30), nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("instruction", sa.String(600), nullable=False),
        sa.Column("caution", sa.String(600), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "work",
                "gauge",
                "glue-up",
                "cure",
                "coat",
                "fundamental",
                "readings",
                name="stepkind",
                native_enum=False,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("gauge", sa.String(60), nullable=False),
        sa.Column("nominal", sa.Float(), nullable=True),
        sa.Column("low", sa.Float(), nullable=True),
        sa.Column("high", sa.Float(), nullable=True),
        sa.Column("while_waiting", sa.Boolean(), nullable=False),
        sa.Column(
            "state", sa.Enum("open", "passed", "failed", name="stepstate", native_enum=False, length=30), nullable=False
        ),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_blank_step_blank_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_blank_step")),
    )
    with op.batch_alter_table("blank_step", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_blank_step_blank_id"), ["blank_id"], unique=False)

    op.create_table(
        "cut",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("blank_id", sa.Integer(), nullable=False),
        sa.Column("control", sa.Integer(), nullable=False),
        sa.Column("size", sa.Float(), nullable=False),
        sa.Column("before", sa.Float(), nullable=True),
        sa.Column("note", sa.String(500), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.Column("corrects_id", sa.Integer(), nullable=True),
        sa.Column("taken_back", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_cut_blank_id")),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_cut_by")),
        sa.ForeignKeyConstraint(["corrects_id"], ["cut.id"], name=op.f("fk_cut_corrects_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cut")),
    )
    with op.batch_alter_table("cut", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_cut_blank_id"), ["blank_id"], unique=False)

    op.create_table(
        "glued_blank",
        sa.Column("glue_up_id", sa.Integer(), nullable=False),
        sa.Column("blank_id", sa.Integer(), nullable=False),
        sa.Column("taken_out_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("taken_out_by", sa.Integer(), nullable=True),
        sa.Column("why_early", sa.String(300), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_glued_blank_blank_id")),
        sa.ForeignKeyConstraint(["glue_up_id"], ["glue_up.id"], name=op.f("fk_glued_blank_glue_up_id")),
        sa.ForeignKeyConstraint(["taken_out_by"], ["person.id"], name=op.f("fk_glued_blank_taken_out_by")),
        sa.PrimaryKeyConstraint("glue_up_id", "blank_id", name=op.f("pk_glued_blank")),
    )
    with op.batch_alter_table("glued_blank", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_glued_blank_blank_id"), ["blank_id"], unique=False)

    op.create_table(
        "reading",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("blank_id", sa.Integer(), nullable=False),
        sa.Column(
            "stage",
            sa.Enum(
                "boring", "gluing", "flue", "voicing", "tuning", "finishing", name="stage", native_enum=False, length=30
            ),
            nullable=False,
        ),
        sa.Column("fingering", sa.String(8), nullable=False),
        sa.Column("note_name", sa.String(4), nullable=False),
        sa.Column("typed", sa.String(30), nullable=False),
        sa.Column("frequency", sa.Float(), nullable=False),
        sa.Column("target", sa.Float(), nullable=False),
        sa.Column("temperature", sa.Float(), nullable=False),
        sa.Column("humidity", sa.Float(), nullable=False),
        sa.Column("warmed_up", sa.Boolean(), nullable=False),
        sa.Column("cents", sa.Float(), nullable=False),
        sa.Column("note", sa.String(500), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.Column("corrects_id", sa.Integer(), nullable=True),
        sa.Column("taken_back", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_reading_blank_id")),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_reading_by")),
        sa.ForeignKeyConstraint(["corrects_id"], ["reading.id"], name=op.f("fk_reading_corrects_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
    )
    with op.batch_alter_table("reading", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_reading_blank_id"), ["blank_id"], unique=False)

    op.create_table(
        "reservation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("blank_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.Float(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_why", sa.String(120), nullable=False),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_reservation_blank_id")),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_reservation_by")),
        sa.ForeignKeyConstraint(["item_id"], ["stock_item.id"], name=op.f("fk_reservation_item_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reservation")),
    )
    with op.batch_alter_table("reservation", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_reservation_blank_id"), ["blank_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_reservation_item_id"), ["item_id"], unique=False)

    op.create_table(
        "stock_movement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.Float(), nullable=False),
        sa.Column(
            "reason",
            sa.Enum(
                "received",
                "used",
                "counted",
                "returned",
                "spoilt",
                "corrected",
                name="movementreason",
                native_enum=False,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("blank_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.String(500), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.Column("corrects_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_stock_movement_blank_id")),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_stock_movement_by")),
        sa.ForeignKeyConstraint(["corrects_id"], ["stock_movement.id"], name=op.f("fk_stock_movement_corrects_id")),
        sa.ForeignKeyConstraint(["item_id"], ["stock_item.id"], name=op.f("fk_stock_movement_item_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_movement")),
    )
    with op.batch_alter_table("stock_movement", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stock_movement_blank_id"), ["blank_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_stock_movement_item_id"), ["item_id"], unique=False)

    op.create_table(
        "step_record",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("step_id", sa.Integer(), nullable=False),
        sa.Column("blank_id", sa.Integer(), nullable=False),
        sa.Column(
            "outcome",
            sa.Enum("passed", "failed", "let pass", "taken back", name="outcome", native_enum=False, length=30),
            nullable=False,
        ),
        sa.Column("value", sa.Float(), nullable=True),
        sa.Column("why", sa.String(300), nullable=False),
        sa.Column("note", sa.String(1000), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Integer(), nullable=False),
        sa.Column("corrects_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["blank_id"], ["blank.id"], name=op.f("fk_step_record_blank_id")),
        sa.ForeignKeyConstraint(["by"], ["person.id"], name=op.f("fk_step_record_by")),
        sa.ForeignKeyConstraint(["corrects_id"], ["step_record.id"], name=op.f("fk_step_record_corrects_id")),
        sa.ForeignKeyConstraint(["step_id"], ["blank_step.id"], name=op.f("fk_step_record_step_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_step_record")),
    )
    with op.batch_alter_table("step_record", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_step_record_blank_id"), ["blank_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_step_record_step_id"), ["step_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("step_record", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_step_record_step_id"))
        batch_op.drop_index(batch_op.f("ix_step_record_blank_id"))

    op.drop_table("step_record")
    with op.batch_alter_table("stock_movement", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stock_movement_item_id"))
        batch_op.drop_index(batch_op.f("ix_stock_movement_blank_id"))

    op.drop_table("stock_movement")
    with op.batch_alter_table("reservation", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_reservation_item_id"))
        batch_op.drop_index(batch_op.f("ix_reservation_blank_id"))

    op.drop_table("reservation")
    with op.batch_alter_table("reading", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_reading_blank_id"))

    op.drop_table("reading")
    with op.batch_alter_table("glued_blank", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_glued_blank_blank_id"))

    op.drop_table("glued_blank")
    with op.batch_alter_table("cut", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_cut_blank_id"))

    op.drop_table("cut")
    with op.batch_alter_table("blank_step", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_blank_step_blank_id"))

    op.drop_table("blank_step")
    with op.batch_alter_table("glue_up", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_glue_up_out_at"))

    op.drop_table("glue_up")
    with op.batch_alter_table("blank", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_blank_waits_until"))
        batch_op.drop_index("ix_blank_waits")
        batch_op.drop_index(batch_op.f("ix_blank_species_id"))
        batch_op.drop_index("ix_blank_shelf")
        batch_op.drop_index(batch_op.f("ix_blank_ordered_flute_id"))
        batch_op.drop_index("ix_blank_next")
        batch_op.drop_index(batch_op.f("ix_blank_key"))
        batch_op.drop_index("ix_blank_due")
        batch_op.drop_index("ix_blank_built")

    op.drop_table("blank")
    with op.batch_alter_table("spread_run", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_spread_run_revision_id"))

    op.drop_table("spread_run")
    with op.batch_alter_table("ordered_flute", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_ordered_flute_order_id"))
        batch_op.drop_index(batch_op.f("ix_ordered_flute_key"))

    op.drop_table("ordered_flute")
    op.drop_table("adhesive")
    with op.batch_alter_table("submission", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_submission_at"))

    op.drop_table("submission")
    with op.batch_alter_table("stock_item", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stock_item_used_up"))
        batch_op.drop_index(batch_op.f("ix_stock_item_species_id"))
        batch_op.drop_index(batch_op.f("ix_stock_item_kind"))

    op.drop_table("stock_item")
    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sign_in_person_id"))
        batch_op.drop_index(batch_op.f("ix_sign_in_expires_at"))

    op.drop_table("sign_in")
    with op.batch_alter_table("pattern_revision", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_pattern_revision_pattern_id"))

    op.drop_table("pattern_revision")
    with op.batch_alter_table("event", schema=None) as batch_op:
        batch_op.drop_index("ix_event_subject_subject_id")

    op.drop_table("event")
    with op.batch_alter_table("customer_order", schema=None) as batch_op:
        batch_op.drop_index("ix_customer_order_newest")
        batch_op.drop_index(batch_op.f("ix_customer_order_due_on"))
        batch_op.drop_index("ix_customer_order_due")
        batch_op.drop_index(batch_op.f("ix_customer_order_customer_id"))

    op.drop_table("customer_order")
    op.drop_table("species")
    op.drop_table("shop")
    op.drop_table("person")
    with op.batch_alter_table("pattern", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_pattern_key"))

    op.drop_table("pattern")
    op.drop_table("drill")
    with op.batch_alter_table("customer", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_customer_sought"))
        batch_op.drop_index(batch_op.f("ix_customer_name"))

    op.drop_table("customer")
