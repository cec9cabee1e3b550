"""Reckonings of dates, carried out in the background and kept until the queue changes."""

import logging
from datetime import datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from webapp import changes
from webapp.db import Database
from webapp.models import Forecast, ForecastKind, Shop, now
from webapp.shop.base import background
from webapp.shop.base.finding import find
from webapp.shop.scheduling import hindsight, queue_dates, shopfloor

log = logging.getLogger("flutebench")

QUIET: Final = background.QUIET
"""A reckoning that has not been heard of for so long has stopped: its process ended under it."""
PARTS: Final = 100
"""Steps of the progress bar."""
KEPT: Final = 5


def mark(session: Session, kind: ForecastKind) -> str:
    """A mark that stays the same as long as a reckoning holds: until something in the shop changes, and half a day at
    most; a look back holds for a week."""
    moment = now().astimezone(ZoneInfo(find(session, Shop, 1, "shop").timezone))
    if kind is ForecastKind.PAST:
        return "{}-{}".format(*moment.isocalendar()[:2])
    return f"{changes.count(session)}-{moment:%Y-%m-%d}-{'morning' if moment.hour < 12 else 'afternoon'}"


def latest(session: Session, kind: ForecastKind, finished: bool = False) -> Forecast | None:
    """The reckoning that was started last, or the last one that came to its end."""
    statement = select(Forecast).where(Forecast.kind == kind).order_by(col(Forecast.id).desc()).limit(KEPT + 2)
    return next((one for one in session.exec(statement) if one.result is not None or not finished), None)


def under_way(run: Forecast | None) -> bool:
    """Whether it is being reckoned right now."""
    return background.under_way(run, QUIET)


def wanted(session: Session, kind: ForecastKind) -> bool:
    """Whether it should be reckoned anew: nothing is under way, and the last one is of another queue or failed."""
    run = latest(session, kind)
    if under_way(run):
        return False
    return run is None or run.mark != mark(session, kind) or (run.result is None and not run.fault)


def start(session: Session, kind: ForecastKind) -> Forecast | None:
    """Write down that it shall be reckoned; the caller hands it on. None where that is under way already."""
    find(session, Shop, 1, "shop", lock=True)
    if under_way(latest(session, kind)):
        return None
    old = select(Forecast).where(Forecast.kind == kind).order_by(col(Forecast.id).desc()).offset(KEPT)
    for one in session.exec(old.limit(20)):
        session.delete(one)
    run = Forecast(kind=kind, mark=mark(session, kind), total=PARTS)
    session.add(run)
    session.flush()
    return run


def reckon(url: str, run_id: int) -> None:
    """Carry a reckoning out; made to run in a process of its own. What goes wrong is written into it."""
    database = Database(url)
    try:
        with database.read() as session:
            kind = find(session, Forecast, run_id, "reckoning").kind
            at = shopfloor.floor(session)
        ticker = Ticker(database, run_id)
        work = queue_dates.queue_dates if kind is ForecastKind.QUEUE else hindsight.look_back
        result = work(at, now().astimezone(at.zone), ticker)
        ticker.write(done=PARTS, result=result)
    except Exception:
        log.exception("forecast %s failed", run_id)
        Ticker(database, run_id).write(fault="The reckoning failed; the reason is in the server's log.")
    finally:
        database.close()


class Ticker:
    """Writes down how far a reckoning is, a few times a second at most, in short transactions of its own."""

    def __init__(self, database: Database, run_id: int) -> None:
        self._database, self._run_id = database, run_id
        self._last: datetime = now()

    def __call__(self, done: int, _total: int = PARTS) -> None:
        if now() - self._last > timedelta(milliseconds=300):
            self._last = now()
            self.write(done=done)

    def write(self, **values: Any) -> None:
        background.write(self._database, Forecast, self._run_id, **values)
