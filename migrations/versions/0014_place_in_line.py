"""whether a customer's own page says how many orders are before theirs"""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("pricing", sa.Column("public_line", sa.Boolean(), server_default=sa.false(), nullable=False))


def downgrade() -> None:
    with op.batch_alter_table("pricing") as batch:
        batch.drop_column("public_line")
