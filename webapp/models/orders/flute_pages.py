"""The flutes' own pages: whether the shop has switched them on, and what it says on each of them."""

import secrets

from sqlmodel import Field, SQLModel


class FlutePages(SQLModel, table=True):
    """At most one row, with id 1. Each flute's address is calculated from `secret`, so that its papers can be printed
    again for as long as the flute lasts."""

    __tablename__ = "flute_pages"

    id: int = Field(default=1, primary_key=True)
    is_open: bool = False
    warranty: str = Field(default="", max_length=2000)
    finish_care: str = Field(default="", max_length=1000)
    secret: str = Field(default_factory=lambda: secrets.token_urlsafe(32), max_length=64)
    version: int = 1
