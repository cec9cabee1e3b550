"""People who work here, and where they are signed in."""

from datetime import datetime
from enum import StrEnum

from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, choice, now
from webapp.models.shop import Units


class Role(StrEnum):
    OWNER = "owner"
    MAKER = "maker"
    OFFICE = "office"
    VIEWER = "viewer"


class Person(SQLModel, table=True):
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=80)
    sign_in_name: str = Field(max_length=80, unique=True)  # kept in lower case
    password_hash: str = Field(max_length=200)
    role: Role = Field(sa_type=choice(Role))
    units: Units | None = Field(default=None, sa_type=choice(Units))
    active: bool = True
    created_at: datetime = Field(default_factory=now, sa_type=UtcTime)


class SignIn(SQLModel, table=True):
    """One browser where a person is signed in. The cookie holds a random token, this row only its digest."""

    __tablename__ = "sign_in"

    token_digest: str = Field(primary_key=True, max_length=64)
    person_id: int = Field(foreign_key="person.id", index=True, ondelete="CASCADE")
    created_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    seen_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    expires_at: datetime = Field(sa_type=UtcTime, index=True)
