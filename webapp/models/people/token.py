"""Keys for programs: each speaks for one person, within its scopes; and what was answered to whom, to answer alike."""

from datetime import datetime

from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, now


class Token(SQLModel, table=True):
    """A program's key. Only its digest is kept; `scopes` are words with spaces between them."""

    __tablename__ = "api_token"

    id: int | None = Field(default=None, primary_key=True)
    digest: str = Field(max_length=64, unique=True)
    person_id: int = Field(foreign_key="person.id", index=True, ondelete="CASCADE")
    name: str = Field(max_length=80)
    begins: str = Field(max_length=12)  # its first signs, by which its owner knows it again
    scopes: str = Field(max_length=200)
    made_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    expires_at: datetime | None = Field(default=None, sa_type=UtcTime)
    used_at: datetime | None = Field(default=None, sa_type=UtcTime)
    revoked_at: datetime | None = Field(default=None, sa_type=UtcTime)


class Answered(SQLModel, table=True):
    """A request that was carried out, by the key it came with; sent again, it gets the same answer and does nothing."""

    __tablename__ = "api_answered"

    token_id: int = Field(primary_key=True, foreign_key="api_token.id", ondelete="CASCADE")
    key: str = Field(primary_key=True, max_length=120)
    asked: str = Field(max_length=64)  # digest of method, address and body
    status: int
    location: str = Field(default="", max_length=300)
    etag: str = Field(default="", max_length=80)
    body: str = Field(default="")
    at: datetime = Field(default_factory=now, sa_type=UtcTime, index=True)
