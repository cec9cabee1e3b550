"""What can be found by search: one row for each blank, order, customer, pattern and lot, with its words."""

from sqlalchemy import Text, UniqueConstraint
from sqlmodel import Field, SQLModel


class SearchRow(SQLModel, table=True):
    """`head`: what it goes by; `notes`: what was written about it, a line each; `words`: both, folded to plain words.

    The database's own full-text index lies over `words` (see migration 0003).
    """

    __tablename__ = "search_row"
    __table_args__ = (UniqueConstraint("kind", "row_id"),)

    id: int | None = Field(default=None, primary_key=True)
    kind: str = Field(max_length=10)
    row_id: int
    at_hand: bool = True  # still at work, open, on the shelf: shown first
    head: str = Field(sa_type=Text)
    notes: str = Field(default="", sa_type=Text)
    words: str = Field(sa_type=Text)
