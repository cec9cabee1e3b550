"""rules of signing in: who needs a second step, how long it lasts, what a person was not told of yet."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

SECOND_STEP_FOR = sa.Enum("nobody", "owners", "everyone", name="secondstepfor", native_enum=False, length=30)
SIGN_INS_LAST = sa.Enum("month", "day", name="signinslast", native_enum=False, length=30)


def upgrade() -> None:
    # A shop that is there already goes on as before: no second step demanded, long sign-ins, nothing to tell.
    op.add_column("shop", sa.Column("second_step_for", SECOND_STEP_FOR, server_default="nobody", nullable=False))
    op.add_column("shop", sa.Column("sign_ins_last", SIGN_INS_LAST, server_default="month", nullable=False))
    op.add_column("person", sa.Column("untold_since", sa.DateTime(timezone=True), nullable=True))
    op.add_column("sign_in", sa.Column("confirmed_at", sa.DateTime(timezone=True), nullable=True))


def downgrade() -> None:
    for table, columns in (
        ("sign_in", ["confirmed_at"]),
        ("person", ["untold_since"]),
        ("shop", ["sign_ins_last", "second_step_for"]),
    ):
        with op.batch_alter_table(table) as batch_op:
            for column in columns:
                batch_op.drop_column(column)
