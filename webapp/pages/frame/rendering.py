"""Templates: where they lie, and what every one of them may use."""

import hashlib
from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from zoneinfo import ZoneInfo

from babel.dates import format_date, format_datetime, format_timedelta
from babel.numbers import format_currency
from jinja2 import (
    Environment,
    FileSystemBytecodeCache,
    FileSystemLoader,
    StrictUndefined,
    pass_context,
    select_autoescape,
)
from jinja2.runtime import Context

from webapp.cache_folder import cache_folder
from webapp.models import Degrees, Units, now
from webapp.shop.people import amounts
from webapp.shop.units import lengths
from webapp.shop.units.rough import rough_volume
from webapp.shop.units.temperatures import show_temperature, show_warmer

_APP = Path(__file__).parents[2]
# In a checkout beside the app, as installed inside it.
STATIC = next(folder for folder in (_APP / "static", _APP.parent / "static") if folder.is_dir())
# Found without being imported: the package's own start-up code is for another framework.
_HTMX_PACKAGE = find_spec("js_lib_htmx")
assert _HTMX_PACKAGE is not None and _HTMX_PACKAGE.origin is not None
HTMX = Path(_HTMX_PACKAGE.origin).parent / "static" / "htmx" / "htmx.min.js"
LOCALE = "en_US"


@cache
def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()[:12]


def asset(name: str) -> str:
    """The address of one of our own files, with a mark that changes with its content."""
    return f"/static/{_digest(STATIC / name)}/{name}"


@cache
def worker() -> str:
    """The address of the service worker; it changes with any file of ours or any library, as then pages do."""
    marks = [_digest(path) for path in sorted(STATIC.rglob("*")) if path.is_file()]
    return f"{asset('worker.js')}?release={hashlib.sha256(' '.join([*marks, _digest(HTMX)]).encode()).hexdigest()[:12]}"


def library(name: str) -> str:
    """The address of a browser library, served from where its package is installed."""
    path = {"htmx": HTMX}[name]
    return f"/library/{_digest(path)}/{path.name}"


def show_cents(value: float) -> str:
    """Signed whole cents with a true minus sign: +3, −12, 0."""
    rounded = round(value)
    return f"+{rounded}" if rounded > 0 else f"\N{MINUS SIGN}{-rounded}" if rounded < 0 else "0"


@pass_context
def _money(context: Context, amount: Decimal, currency: str) -> str:
    """An amount on a page: not for those who see none, even where a template forgot to ask."""
    person = context.get("person")
    return show_money(amount, currency) if person and amounts.sees_money(person.role) else amounts.WITHHELD


def show_money(amount: Decimal, currency: str) -> str:
    return format_currency(amount, currency, locale=LOCALE)


def show_day(day: date | None) -> str:
    return format_date(day, "d MMM yyyy", locale=LOCALE) if day else ""


def show_moment(moment: datetime | None, timezone: str) -> str:
    """A moment on the shop's own clock: Tue 3 Mar 2026, 14:05."""
    if moment is None:
        return ""
    return format_datetime(moment, "EEE d MMM yyyy, HH:mm", tzinfo=ZoneInfo(timezone), locale=LOCALE)


def show_span(minutes: float) -> str:
    """A waiting time in words: 45 minutes, 3 hours, 2 days."""
    return format_timedelta(round(minutes * 60), granularity="minute", threshold=1.5, locale=LOCALE)


@cache
def environment() -> Environment:
    """The one template environment, for all apps of a process, so that templates are compiled once.

    An unknown name in a template is an error, never an empty string.
    """
    env = Environment(
        loader=FileSystemLoader(Path(__file__).parents[2] / "templates"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=FileSystemBytecodeCache(str(folder)) if (folder := cache_folder("templates")) else None,
    )
    env.globals.update(asset=asset, library=library, worker=worker, now=now)
    env.filters.update(
        cents=show_cents,
        money=_money,
        day=show_day,
        moment=show_moment,
        span=show_span,
        measure=_length(lengths.show_length),
        gauge=_length(lengths.show_gauge),
        least=_length(lengths.show_least),
        most=_length(lengths.show_most),
        cut=_length(lengths.show_cut),
        taken=_length(lengths.show_taken),
        temperature=lambda celsius, degrees: show_temperature(celsius, Degrees(degrees)),
        warmer=lambda celsius, degrees: show_warmer(celsius, Degrees(degrees)),
        volume=_length(rough_volume),
        moved=_length(lengths.show_moved),
        offered=lengths.show_offered,
        as_decimal=Decimal,
    )
    return env


def compile_all() -> None:
    """Have every template compiled, so that the first who asks for a page does not wait for that."""
    env = environment()
    for name in env.list_templates():
        env.get_template(name)


def _length(show: Callable[[float, Units], str]) -> Callable[..., str]:
    """A filter that writes a length in a person's units, and nothing where there is none."""
    return lambda value, units=Units.INCH: "" if value is None else show(value, Units(units))
