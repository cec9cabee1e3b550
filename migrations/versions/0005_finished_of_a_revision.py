"""the newest finished flutes of a revision, found at once among however many."""

from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index("ix_blank_came_out", "blank", ["revision_id", "finished_at", "id"])


def downgrade() -> None:
    op.drop_index("ix_blank_came_out", "blank")
