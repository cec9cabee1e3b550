"""columns for what was read out of words: when a blank was given up, and what sort of size a gauge measures."""

from typing import Any

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

MEASURES = sa.Enum("size", "width", "length", "depth", "thickness", name="measure", native_enum=False, length=30)
# A gauge was found by the first of these words in its text, a blank that was given up by these in the diary.
FOUND_BY = (
    ("depth", "depth"),
    ("length", "length"),
    ("outside", "thickness"),
    ("thickness", "thickness"),
    ("wall", "thickness"),
    ("hole", "size"),
    ("width", "width"),
    ("diameter", "width"),
)
GIVEN_UP = "Given up: firewood%"
# What the sizes of a pattern are known to be without being told.
USUAL = {
    "bore-foot": "width",
    "bore-widest": "width",
    "bore-narrowest": "width",
    "chamber-bore": "width",
    "chamber-length": "length",
    "foot": "length",
    "foot-start": "length",
    "wall": "thickness",
    "outside": "thickness",
    "flue-depth": "depth",
    "flue-width": "width",
    "flue-length": "length",
    "window-length": "length",
    "window-width": "width",
}

version = sa.table(
    "routing_version",
    sa.column("id", sa.Integer()),
    sa.column("steps", sa.JSON().with_variant(postgresql.JSONB(), "postgresql")),
)
blank = sa.table(
    "blank",
    sa.column("id", sa.Integer()),
    sa.column("status", sa.String()),
    sa.column("given_up_at", sa.DateTime(timezone=True)),
)
event = sa.table(
    "event",
    sa.column("at", sa.DateTime(timezone=True)),
    sa.column("subject", sa.String()),
    sa.column("subject_id", sa.Integer()),
    sa.column("what", sa.String()),
)
step = sa.table("blank_step", sa.column("gauge", sa.String()), sa.column("measures", sa.String()))


def upgrade() -> None:
    op.add_column("blank", sa.Column("given_up_at", sa.DateTime(timezone=True), nullable=True))
    op.create_index("ix_blank_given_up", "blank", ["given_up_at", "id"])
    op.add_column("blank_step", sa.Column("measures", MEASURES, server_default="size", nullable=False))
    connection = op.get_bind()
    when = (
        sa.select(sa.func.max(event.c.at))
        .where(event.c.subject == "blank", event.c.subject_id == blank.c.id, event.c.what.like(GIVEN_UP))
        .scalar_subquery()
    )
    connection.execute(sa.update(blank).where(blank.c.status == "firewood").values(given_up_at=when))
    said = sa.func.lower(step.c.gauge)
    found = sa.case(*((said.contains(word), measure) for word, measure in FOUND_BY), else_="size")
    connection.execute(sa.update(step).where(step.c.gauge != "").values(measures=found))
    for one_id, steps in connection.execute(sa.select(version.c.id, version.c.steps)).all():
        told = [_told(one) for one in steps]
        if told != steps:
            connection.execute(sa.update(version).where(version.c.id == one_id).values(steps=told))


def downgrade() -> None:
    connection = op.get_bind()
    for one_id, steps in connection.execute(sa.select(version.c.id, version.c.steps)).all():
        plain = [{name: value for name, value in one.items() if name != "measures"} for one in steps]
        if plain != steps:
            connection.execute(sa.update(version).where(version.c.id == one_id).values(steps=plain))
    with op.batch_alter_table("blank_step") as batch:
        batch.drop_column("measures")
    op.drop_index("ix_blank_given_up", "blank")
    with op.batch_alter_table("blank") as batch:
        batch.drop_column("given_up_at")


def _told(one: dict[str, Any]) -> dict[str, Any]:
    """The step of a routing, told what its gauge measures where its words said another thing than its size does."""
    said = str(one.get("gauge", "")).lower()
    found = next((measure for word, measure in FOUND_BY if word in said), None)
    usual = USUAL.get((one.get("size") or {}).get("of", ""), "size")
    return one | {"measures": found} if found and found != usual else one
