"""The shop's words for mails about an order."""

from enum import StrEnum

from sqlmodel import Field, SQLModel

from webapp.models.base import choice


class MailKind(StrEnum):
    QUOTE = "quote"
    CONFIRMATION = "confirmation"
    READY = "ready"
    SHIPPED = "shipped"


class MailTemplate(SQLModel, table=True):
    """Subject and body of one kind of mail, with fields in braces that an order fills."""

    __tablename__ = "mail_template"

    kind: MailKind = Field(primary_key=True, sa_type=choice(MailKind))
    subject: str = Field(max_length=200)
    body: str = Field(max_length=2000)
    version: int = 1
