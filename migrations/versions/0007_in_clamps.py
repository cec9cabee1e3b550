"""the blanks that lie in clamps, found at once among all that ever did."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

INSIDE = sa.text("taken_out_at IS NULL")


def upgrade() -> None:
    op.create_index(
        "ix_glued_blank_inside",
        "glued_blank",
        ["glue_up_id", "blank_id"],
        sqlite_where=INSIDE,
        postgresql_where=INSIDE,
    )


def downgrade() -> None:
    op.drop_index("ix_glued_blank_inside", "glued_blank")
