"""Times on the shop's own clock, as screens say them: today, a time of day, what a blank waits for."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from babel.dates import format_datetime

from webapp.models import Shop, now
from webapp.pages.frame.rendering import LOCALE, show_day
from webapp.shop.blanks.lists import Seen

WAITS = {"glue": "glue is spread", "clamps": "out of clamps", "cure": "cured", "coat": "dry"}


def today_of(shop: Shop) -> date:
    """The day it is on the shop's own clock."""
    return now().astimezone(ZoneInfo(shop.timezone)).date()


def when(one: Seen, shop: Shop, found_late: bool = False, said_whose: bool = False) -> str:
    """What there is to know about time on one blank: when its wait ends, else when it is due."""
    blank = one.blank
    if blank.grave_defect:
        return "defect: decide"
    if blank.waits_for == "glue":
        return "glue is spread: clamp it"
    if blank.waits_for and blank.waits_until:
        if blank.waits_until > now():
            return f"{WAITS[blank.waits_for]} {clock(blank.waits_until, shop)}"
        if blank.waits_for == "clamps":
            return "can come out"
    if blank.due_on is None:
        return "for the shop" if one.order is None and not said_whose else ""
    return f"{'late: was due' if found_late else 'due'} {show_day(blank.due_on)}"


def clock(at: datetime, shop: Shop) -> str:
    """The time of day on the shop's clock, with the weekday where it is not today."""
    zone = ZoneInfo(shop.timezone)
    local = at.astimezone(zone)
    pattern = "HH:mm" if local.date() == now().astimezone(zone).date() else "EEE HH:mm"
    return str(format_datetime(local, pattern, tzinfo=zone, locale=LOCALE))
