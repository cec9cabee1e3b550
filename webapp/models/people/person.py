"""People who work here, and where they are signed in."""

from datetime import datetime
from enum import StrEnum

from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, choice, now
from webapp.models.shop.shop import Degrees, Units


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
    degrees: Degrees | None = Field(default=None, sa_type=choice(Degrees))
    active: bool = True
    # At the tuning bench: advice in the steps of the drills on the rack, else any size, by file or reamer.
    by_drills: bool | None = None
    created_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    # The second step of signing in, where the person wants one: the secret, sealed (see security/sealing.py), and the
    # time step of the last code that was taken, so that none is taken twice (RFC 6238, 5.2).
    code_secret: str | None = Field(default=None, max_length=300)
    code_used: int = Field(default=0, sa_column_kwargs={"server_default": "0"})
    # Since when something happened to this account that its person was not told of yet; empty: nothing did.
    untold_since: datetime | None = Field(default=None, sa_type=UtcTime)


class SpareCode(SQLModel, table=True):
    """One of the codes on paper that stand in for the telephone, once each. Only its digest is kept."""

    __tablename__ = "spare_code"

    digest: str = Field(primary_key=True, max_length=64)
    person_id: int = Field(foreign_key="person.id", index=True, ondelete="CASCADE")


class Invitation(SQLModel, table=True):
    """A secret address, good once and for a few days, where someone chooses their own password."""

    token_digest: str = Field(primary_key=True, max_length=64)
    person_id: int = Field(foreign_key="person.id", index=True, ondelete="CASCADE")
    made_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    made_by: int = Field(foreign_key="person.id")
    expires_at: datetime = Field(sa_type=UtcTime)


class SignIn(SQLModel, table=True):
    """One browser where a person is signed in. The cookie holds a random token, this row only its digest."""

    __tablename__ = "sign_in"

    token_digest: str = Field(primary_key=True, max_length=64)
    person_id: int = Field(foreign_key="person.id", index=True, ondelete="CASCADE")
    created_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    seen_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    expires_at: datetime = Field(sa_type=UtcTime, index=True)
    # The password fitted, the code of the second step is still awaited: nothing is open to this browser yet.
    awaits_code: bool = Field(default=False, sa_column_kwargs={"server_default": "0"})
    device: str = Field(default="", max_length=60, sa_column_kwargs={"server_default": ""})
    # When the password was typed in this browser for the last time; empty: when the sign-in began.
    confirmed_at: datetime | None = Field(default=None, sa_type=UtcTime)


class KnownBrowser(SQLModel, table=True):
    """A browser where someone has signed in before: guesses made elsewhere do not make its owner wait."""

    __tablename__ = "known_browser"

    token_digest: str = Field(primary_key=True, max_length=64)
    person_id: int = Field(foreign_key="person.id", index=True, ondelete="CASCADE")
    seen_at: datetime = Field(default_factory=now, sa_type=UtcTime)


class FailedTry(SQLModel, table=True):
    """A wrong password or code, kept for a day, by digests of the name that was typed and of where it came from."""

    __tablename__ = "failed_try"

    id: int | None = Field(default=None, primary_key=True)
    name_digest: str = Field(max_length=64, index=True)
    address_digest: str = Field(max_length=64, index=True)
    known_digest: str = Field(default="", max_length=64, index=True)
    at: datetime = Field(default_factory=now, sa_type=UtcTime, index=True)
