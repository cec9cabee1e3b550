"""Forecasts of dates, carried out in the background and kept until the queue changes."""

from datetime import datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from webapp import changes
from webapp.db import Database
from webapp.jobs import claims
from webapp.models import Forecast, ForecastKind, Shop, now
from webapp.shop.base.finding import find
from webapp.shop.scheduling import hindsight, queue_dates, shopfloor

PARTS: Final = 100
"""Steps of the progress bar."""
KEPT: Final = 5


def mark(session: Session, kind: ForecastKind) -> str:
    """A mark that stays the same as long as a forecast holds: until something in the shop changes, and half a day at
    most; a look back holds for a week."""
    moment = now().astimezone(ZoneInfo(find(session, Shop, 1, "shop").timezone))
    if kind is ForecastKind.PAST:
        return "{}-{}".format(*moment.isocalendar()[:2])
    return f"{changes.count(session)}-{moment:%Y-%m-%d}-{'morning' if moment.hour < 12 else 'afternoon'}"


def latest(session: Session, kind: ForecastKind, finished: bool = False) -> Forecast | None:
    """The forecast that was started last, or the last one that came to its end."""
    statement = select(Forecast).where(Forecast.kind == kind).order_by(col(Forecast.id).desc()).limit(KEPT + 2)
    return next((one for one in session.exec(statement) if one.result is not None or not finished), None)


def wanted(session: Session, kind: ForecastKind) -> bool:
    """Whether it should be calculated again: nothing is under way, and the last one is of another queue or failed."""
    run = latest(session, kind)
    if claims.under_way(run):
        return False
    return run is None or run.mark != mark(session, kind) or (run.result is None and not run.fault)


def start(session: Session, kind: ForecastKind) -> Forecast | None:
    """Write down that it is to be calculated; the caller enqueues it. None where that is under way already."""
    find(session, Shop, 1, "shop", lock=True)
    if claims.under_way(latest(session, kind)):
        return None
    old = select(Forecast).where(Forecast.kind == kind).order_by(col(Forecast.id).desc()).offset(KEPT)
    for one in session.exec(old.limit(20)):
        session.delete(one)
    run = Forecast(kind=kind, mark=mark(session, kind), total=PARTS)
    session.add(run)
    session.flush()
    return run


def calculate(database: Database, run_id: int) -> None:
    """Carry a forecast out, as a background job."""
    with database.read() as session:
        kind = find(session, Forecast, run_id, "forecast").kind
        at = shopfloor.floor(session)
    ticker = Ticker(database, run_id)
    work = queue_dates.queue_dates if kind is ForecastKind.QUEUE else hindsight.look_back
    ticker.write(done=PARTS, result=work(at, now().astimezone(at.zone), ticker))


class Ticker:
    """Writes down how far a forecast is, a few times a second at most, in short transactions of its own."""

    def __init__(self, database: Database, run_id: int) -> None:
        self._database, self._run_id = database, run_id
        self._last: datetime = now()

    def __call__(self, done: int, _total: int = PARTS) -> None:
        if now() - self._last > timedelta(milliseconds=300):
            self._last = now()
            self.write(done=done)

    def write(self, **values: Any) -> None:
        claims.save(self._database, Forecast, self._run_id, **values)
