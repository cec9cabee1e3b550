"""the whole shop."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
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
        "spare_code",
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_spare_code_person_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_spare_code")),
    )
    with op.batch_alter_table("spare_code", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_spare_code_person_id"), ["person_id"], unique=False)

    with op.batch_alter_table("person", schema=None) as batch_op:
        batch_op.add_column(sa.Column("code_secret", sa.String(300), nullable=True))
        batch_op.add_column(sa.Column("code_used", sa.Integer(), server_default="0", nullable=False))

    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.add_column(sa.Column("awaits_code", sa.Boolean(), server_default="0", nullable=False))
        batch_op.add_column(sa.Column("device", sa.String(60), server_default="", nullable=False))


def downgrade() -> None:
    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.drop_column("device")
        batch_op.drop_column("awaits_code")

    with op.batch_alter_table("person", schema=None) as batch_op:
        batch_op.drop_column("code_used")
        batch_op.drop_column("code_secret")

    with op.batch_alter_table("spare_code", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_spare_code_person_id"))

    op.drop_table("spare_code")
    with op.batch_alter_table("known_browser", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_known_browser_person_id"))

    op.drop_table("known_browser")
    with op.batch_alter_table("invitation", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_invitation_person_id"))

    op.drop_table("invitation")
    with op.batch_alter_table("failed_try", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_failed_try_name_digest"))
        batch_op.drop_index(batch_op.f("ix_failed_try_known_digest"))
        batch_op.drop_index(batch_op.f("ix_failed_try_at"))
        batch_op.drop_index(batch_op.f("ix_failed_try_address_digest"))

    op.drop_table("failed_try")
