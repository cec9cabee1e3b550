"""What a person's calendar shows: what comes out of clamps, cure and coats, and what is due. RFC 5545 and RFC 7986."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from urllib.parse import quote
from uuid import NAMESPACE_OID, uuid5

from icalendar import Alarm, Calendar, Event
from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    BlankStatus,
    CalendarFeed,
    Customer,
    GluedBlank,
    GlueUp,
    Order,
    OrderStatus,
    Person,
    Shop,
    is_open,
    now,
)
from webapp.shop.base.finding import find

A_MOMENT = timedelta(minutes=15)
MOST = 500
STALE = timedelta(days=2)
OPEN_ORDERS = (OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP, OrderStatus.READY)


@dataclass(frozen=True, slots=True)
class Due:
    """One thing a calendar shows. `key` never changes, `since` is when it last did; a date alone lasts all day."""

    key: str
    at: datetime | date
    what: str
    more: str
    since: datetime
    address: str
    sequence: int = 0


def calendar(session: Session, feed: CalendarFeed, address: str) -> bytes:
    """The feed as a calendar's file; the same for as long as nothing changes. `address`: of the shop, for its links."""
    shop = find(session, Shop, 1, "shop")
    made = Calendar()
    made.add("prodid", "-//Flutebench//Workshop calendar//EN")
    made.add("version", "2.0")
    made.add("calscale", "GREGORIAN")
    made.add("name", shop.name)
    made.add("x-wr-calname", shop.name)
    made.add("refresh-interval", timedelta(minutes=15), parameters={"VALUE": "DURATION"})
    made.add("x-published-ttl", "PT15M")
    # Stable for this shop and unlike those of any other: from the moment its first person was entered.
    first = session.exec(select(Person.created_at).order_by(col(Person.id)).limit(1)).one()
    space = uuid5(NAMESPACE_OID, f"flutebench {first.isoformat()}")
    for due in everything(session, feed.with_customers):
        entry = Event()
        entry.add("uid", str(uuid5(space, due.key)))
        entry.add("dtstamp", due.since.astimezone(UTC).replace(microsecond=0))
        entry.add("summary", due.what)
        if due.more:
            entry.add("description", due.more)
        entry.add("url", f"{address}{due.address}")
        entry.add("sequence", due.sequence)
        if isinstance(due.at, datetime):
            entry.add("dtstart", due.at.astimezone(UTC).replace(microsecond=0))
            entry.add("dtend", (due.at + A_MOMENT).astimezone(UTC).replace(microsecond=0))
        else:
            entry.add("dtstart", due.at)
            entry.add("dtend", due.at + timedelta(days=1))
            entry.add("transp", "TRANSPARENT")
        if feed.alarm_minutes is not None and isinstance(due.at, datetime):
            alarm = Alarm()
            alarm.add("action", "DISPLAY")
            alarm.add("description", due.what)
            alarm.add("trigger", timedelta(minutes=-feed.alarm_minutes))
            entry.add_component(alarm)
        made.add_component(entry)
    content: bytes = made.to_ical()
    return content


def everything(session: Session, with_customers: bool) -> list[Due]:
    """What comes out of clamps, cure and coats, and what is due; the same order each time."""
    found = [*_glued(session), *_coats(session), *_orders(session, with_customers), *_shelf(session)]
    # What has long been dry or cured, and merely lies there, is no news; a date that was missed still is.
    news = [due for due in found if not isinstance(due.at, datetime) or due.at > now() - STALE]
    return sorted(news, key=lambda due: due.key)[:MOST]


def _glued(session: Session) -> list[Due]:
    """Glue-ups whose blanks are in the clamps, or out of them and not cured yet."""
    rows = session.exec(
        select(GlueUp, GluedBlank.taken_out_at, Blank.serial)
        .join(GluedBlank, col(GluedBlank.glue_up_id) == GlueUp.id)
        .join(Blank, col(Blank.id) == GluedBlank.blank_id)
        .where(
            col(GlueUp.clamped_at).is_not(None),
            col(GluedBlank.taken_out_at).is_(None) | (col(Blank.waits_for) == "cure"),
            Blank.status == BlankStatus.IN_WORK,
        )
        .order_by(col(Blank.serial))
    ).all()
    sets: dict[int, GlueUp] = {}
    inside: dict[int, list[str]] = {}
    all_of: dict[int, list[str]] = {}
    for made, out, serial in rows:
        assert made.id is not None
        sets[made.id] = made
        all_of.setdefault(made.id, []).append(serial)
        if out is None:
            inside.setdefault(made.id, []).append(serial)
    found = []
    for number, made in sets.items():
        assert made.clamped_at is not None and made.out_at is not None and made.cured_at is not None
        if number in inside:
            out_of = f"Out of the clamps: {', '.join(inside[number])}"
            found.append(Due(f"glue-up/{number}/out", made.out_at, out_of, "", made.clamped_at, "/glue-up"))
        cured = f"Cured: {', '.join(all_of[number])}"
        found.append(Due(f"glue-up/{number}/cured", made.cured_at, cured, "", made.clamped_at, "/glue-up"))
    return found


def _coats(session: Session) -> list[Due]:
    rows = session.exec(
        select(Blank).where(
            Blank.waits_for == "coat", col(Blank.waits_until).is_not(None), Blank.status == BlankStatus.IN_WORK
        )
    ).all()
    found = []
    for blank in rows:
        assert blank.waits_until is not None
        more = f"Then: {blank.next_name}" if blank.next_name else ""
        # One coat after another is one thing each: the moment it dries tells them apart.
        key = f"blank/{blank.id}/coat/{int(blank.waits_until.timestamp())}"
        found.append(Due(key, blank.waits_until, f"Coat is dry: {blank.serial}", more, blank.opened_at, _at(blank)))
    return found


def _orders(session: Session, with_customers: bool) -> list[Due]:
    rows = session.exec(
        select(Order, Customer.name)
        .join(Customer, col(Customer.id) == Order.customer_id)
        .where(col(Order.status).in_(OPEN_ORDERS), is_open(), col(Order.due_on).is_not(None))
    ).all()
    found = []
    for order, name in rows:
        assert order.due_on is not None
        what = f"Order {order.number} is due{f', {name}' if with_customers else ''}"
        found.append(
            Due(
                f"order/{order.number}",
                order.due_on,
                what,
                f"It is {order.status}.",
                datetime.combine(order.taken_on, time(), UTC),
                f"/orders/{order.number}",
                order.version,
            )
        )
    return found


def _shelf(session: Session) -> list[Due]:
    """Blanks with a day of their own, for no order."""
    rows = session.exec(
        select(Blank).where(
            Blank.status == BlankStatus.IN_WORK, col(Blank.due_on).is_not(None), col(Blank.ordered_flute_id).is_(None)
        )
    ).all()
    return [
        Due(f"blank/{blank.id}", blank.due_on, f"{blank.serial} is due", "", blank.opened_at, _at(blank))
        for blank in rows
        if blank.due_on
    ]


def _at(blank: Blank) -> str:
    return f"/blanks/{quote(blank.serial, safe='')}"
