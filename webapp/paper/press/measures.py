"""How lengths, limits, times and names stand on paper."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from babel.dates import format_date, format_datetime, format_timedelta

from webapp.models import Units
from webapp.shop.units.lengths import show_least, show_most

LOCALE = "en_US"
INCH = 25.4
MINUS = "\N{MINUS SIGN}"


def named_day(value: date | None) -> str:
    """A day with its weekday: Fri 14 Mar 2031."""
    return format_date(value, "EEE d MMM yyyy", locale=LOCALE) if value else ""


def millimetres(mm: float) -> str:
    """To a tenth, without the unit."""
    return f"{mm:.1f}".replace("-", MINUS)


def limits(low: float | None, high: float | None, units: Units) -> str:
    """The limits of a gauge as every screen shows them: what the paper lets pass, the limits in mm let pass too."""
    least = None if low is None else show_least(low, units)
    most = None if high is None else show_most(high, units)
    if least is not None and most is not None:
        return f"{least.removesuffix(' mm')} to {most}"
    if least is not None:
        return f"at least {least}"
    return f"at most {most}" if most is not None else ""


def cents(value: float) -> str:
    """Signed whole cents with a true minus sign."""
    rounded = round(value)
    return f"+{rounded}" if rounded > 0 else f"{MINUS}{-rounded}" if rounded < 0 else "0"


def day(value: date | None) -> str:
    return format_date(value, "d MMM yyyy", locale=LOCALE) if value else ""


def day_of(value: datetime, timezone: str) -> str:
    """The day of a moment on the shop's own clock."""
    return day(value.astimezone(ZoneInfo(timezone)).date())


def moment(value: datetime, timezone: str) -> str:
    """A moment on the shop's own clock, short enough for a narrow column: 3 Mar 14:05."""
    return format_datetime(value, "d MMM HH:mm", tzinfo=ZoneInfo(timezone), locale=LOCALE)


def span(minutes: float) -> str:
    """A waiting time in words: 45 minutes, 3 hours, 2 days."""
    return format_timedelta(round(minutes * 60), granularity="minute", threshold=1.5, locale=LOCALE)


def initials(name: str) -> str:
    """What a person would write in a narrow box: IV for Ines Varga, Ta for Tam."""
    words = [word for word in name.replace("-", " ").split() if word]
    if not words:
        return ""
    return words[0][:2].capitalize() if len(words) == 1 else "".join(word[0] for word in words[:3]).upper()


def shortened(text: str, most: int) -> str:
    """The text on one line, cut at a word where it is longer than `most` letters, and saying so."""
    text = " ".join(text.split())
    if len(text) <= most:
        return text
    return text[:most].rsplit(" ", 1)[0].rstrip(",;:") + " … (the rest is on the order’s page)"
