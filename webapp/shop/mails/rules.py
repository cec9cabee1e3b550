"""Templates of mails with fields in braces, and the draft that an order makes of one."""

import re
from dataclasses import dataclass
from string import Formatter
from typing import Annotated, Final
from urllib.parse import quote

from pydantic import BaseModel, StringConstraints
from sqlmodel import Session

from webapp.models import Customer, MailKind, MailTemplate, Order, Role, Shop
from webapp.shop.base.errors import Invalid, NotFound, Stale
from webapp.shop.base.finding import find
from webapp.shop.orders import money as order_money, prices, rules as orders
from webapp.shop.parcels import rules as parcels
from webapp.shop.people import amounts, diary
from webapp.shop.people.accounts import Who
from webapp.shop.units.keys import show_note

FIELDS: Final = {
    "customer": "the customer's name",
    "order": "the order's number",
    "shop": "the shop's name",
    "flutes": "what was ordered, in a line",
    "due": "the day it is promised for",
    "total": "what it comes to",
    "carrier": "who carries the parcel",
    "tracking": "its tracking number",
}
_CLOSE = "\n\nWith kind regards,\n{shop}"
USUAL: Final = {
    MailKind.QUOTE: (
        "Your quote from {shop}, order {order}",
        "Dear {customer},\n\nthank you for asking. Attached is our quote for {flutes}: {total} in all. Tell us whether "
        "we may begin." + _CLOSE,
    ),
    MailKind.CONFIRMATION: (
        "Your order {order} is confirmed",
        "Dear {customer},\n\nthank you for your order. We are making {flutes}, promised for {due}. Our confirmation is "
        "attached." + _CLOSE,
    ),
    MailKind.READY: (
        "Your order {order} is ready",
        "Dear {customer},\n\nit is finished: {flutes}. Tell us whether you will fetch it or have it sent." + _CLOSE,
    ),
    MailKind.SHIPPED: (
        "Your order {order} is on its way",
        "Dear {customer},\n\nyour parcel has left us with {carrier}, number {tracking}. Let it warm up in its wrapping "
        "before you open it: cold wood and a warm room make cracks." + _CLOSE,
    ),
}
_ADDRESS = re.compile(r"[^\s@<>,;()\"]+@[^\s@<>,;()\"]+\.[^\s@<>,;()\".]+")
UNKNOWN = "\N{HORIZONTAL ELLIPSIS}"


class TemplateAsked(BaseModel):
    """Subject and body as typed; `version` is the one on the screen, 0 for the words that every shop begins with."""

    subject: Annotated[str, StringConstraints(min_length=1, max_length=200)]
    body: Annotated[str, StringConstraints(min_length=1, max_length=2000)]
    version: int


@dataclass(frozen=True, slots=True)
class Draft:
    """A mail to look over. `open` prefills the person's own mail program (RFC 6068); `lacks` names fields that the
    order leaves empty, and stand as an ellipsis."""

    kind: MailKind
    to: str
    subject: str
    body: str
    open: str
    lacks: tuple[str, ...]


def kind_of(text: str) -> MailKind:
    """Raises NotFound."""
    if text not in list(MailKind):
        raise NotFound("There is no mail of this kind.")
    return MailKind(text)


def template(session: Session, kind: MailKind) -> MailTemplate:
    """The shop's words; before it has any, those that every shop begins with, of version 0 and not stored."""
    subject, body = USUAL[kind]
    return session.get(MailTemplate, kind) or MailTemplate(kind=kind, subject=subject, body=body, version=0)


def as_typed(said: MailTemplate) -> dict[str, str]:
    return {"subject": said.subject, "body": said.body, "version": str(said.version)}


def change(session: Session, who: Who, kind: MailKind, asked: TemplateAsked) -> MailTemplate:
    """Say a kind of mail in the shop's words. Raises NotAllowed, Stale, Invalid."""
    who.must(Role.OFFICE)
    said = session.get(MailTemplate, kind, with_for_update=True) or template(session, kind)
    if asked.version != said.version:
        raise Stale(as_typed(said))
    wrong = {name: words for name in ("subject", "body") if (words := _wrong(getattr(asked, name)))}
    if wrong:
        raise Invalid(wrong)
    said.subject, said.body = asked.subject, asked.body
    said.version += 1
    session.add(said)
    diary.write(session, who, "shop", 1, f"Mail, {kind}: new words")
    session.flush()
    return said


def draft(session: Session, who: Who, number: int, kind: MailKind) -> Draft:
    """The mail of this kind about an order, for whoever asks: without an amount they do not see. Raises NotFound."""
    order = orders.order_of(session, number)
    customer = find(session, Customer, order.customer_id, "customer")
    said, values = template(session, kind), _values(session, who, order, customer)
    subject, body = (text.format_map(values) for text in (said.subject, said.body))
    asked = {name for text in (said.subject, said.body) for name in _fields(text)}
    found = _ADDRESS.search(customer.contact)
    to = found[0] if found else ""
    lacks = tuple(FIELDS[name] for name in FIELDS if name in asked and values[name] == UNKNOWN)
    return Draft(kind, to, subject, body, _mailto(to, subject, body), lacks)


def _values(session: Session, who: Who, order: Order, customer: Customer) -> dict[str, str]:
    parcel = parcels.of_order(session, order)
    sums = order_money.sums_of(session, order)
    flutes = [f"a flute in {show_note(flute.key)}, {flute.scale}" for flute in orders.flutes_of(session, order)]
    sees = amounts.sees(who.role, "customer_order.total")
    values = {
        "customer": customer.name,
        "order": str(order.number),
        "shop": find(session, Shop, 1, "shop").name,
        "flutes": "; ".join(flutes),
        "due": f"{order.due_on:%A}, {order.due_on.day} {order.due_on:%B %Y}" if order.due_on else "",
        "total": prices.money(sums.total, order.currency) if sees and sums.total else "",
        "carrier": parcel.carrier,
        "tracking": parcel.tracking,
    }
    return {name: value or UNKNOWN for name, value in values.items()}


def _fields(text: str) -> list[str]:
    """The names in braces. Raises ValueError for braces that do not close."""
    return [name for _, name, _, _ in Formatter().parse(text) if name is not None]


def _wrong(text: str) -> str:
    """Why a template can't be filled; empty where it can."""
    try:
        parts = [part for part in Formatter().parse(text) if part[1] is not None]
    except ValueError:
        return "A brace is open: write fields as {customer}, and a brace of your own twice, as {{ or }}."
    for _, name, spec, conversion in parts:
        if name not in FIELDS or spec or conversion:
            return f"There is no field {{{name}}}: choose of those below."
    return ""


def _mailto(to: str, subject: str, body: str) -> str:
    """The address that opens a mail program (RFC 6068): all but plain letters encoded, lines ended by CR LF."""
    lines = body.replace("\r\n", "\n").replace("\n", "\r\n")
    return f"mailto:{quote(to, safe='@')}?subject={quote(subject, safe='')}&body={quote(lines, safe='')}"
