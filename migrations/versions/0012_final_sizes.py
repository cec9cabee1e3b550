"""a size that was found when tuning ended is told from a cut made at that moment

Revision ID: 0012
"""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("cut", sa.Column("found", sa.Boolean(), server_default="0", nullable=False))


def downgrade() -> None:
    with op.batch_alter_table("cut") as batch:
        batch.drop_column("found")
