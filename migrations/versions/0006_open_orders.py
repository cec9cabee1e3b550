"""the orders that are open, found at once among however many were handed over."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

OPEN = sa.text("status NOT IN ('handed over', 'withdrawn')")


def upgrade() -> None:
    op.create_index(
        "ix_customer_order_open", "customer_order", ["due_on", "number"], sqlite_where=OPEN, postgresql_where=OPEN
    )


def downgrade() -> None:
    op.drop_index("ix_customer_order_open", "customer_order")
