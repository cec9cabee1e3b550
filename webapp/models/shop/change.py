"""How often anything in the shop has changed: what an open screen asks for to know whether it is out of date."""

from sqlmodel import Field, SQLModel


class ChangeCount(SQLModel, table=True):
    """One row, with id 1, counted up at the end of every transaction that changes something (see webapp/db.py).

    Ids of new rows would not do: with several writers a lower one may be committed after a higher one was seen.
    """

    __tablename__ = "change_count"

    id: int = Field(default=1, primary_key=True)
    count: int = 0
