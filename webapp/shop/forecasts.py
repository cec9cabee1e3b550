"""Reckonings of dates, carried out in the background and kept until the queue changes."""

import hashlib
import logging
from datetime import datetime, timedelta
from typing import Any, Final

from sqlmodel import Session, col, select

from webapp.db import Database
from webapp.models import Forecast, ForecastKind, Shop, now
from webapp.shop import hindsight, queue_dates, shopfloor
from webapp.shop.finding import find
from webapp.shop.shopfloor import Shopfloor

log = logging.getLogger("flutebench")

QUIET: Final = timedelta(seconds=60)
PARTS: Final = 100
"""Steps of the progress bar."""


def mark(at: Shopfloor, moment: datetime) -> str:
    """A mark that is the same as long as the queue, the hours and what is known of the past are: half a day at most."""
    blanks = sorted((b.id, b.status.value, len(b.passed), b.flute_id) for b in at.entries.blanks.values())
    orders = sorted((o.number, o.status.value, o.due, len(o.flutes)) for o in at.entries.orders.values())
    half = moment.date().isoformat() + ("a" if moment.hour < 12 else "b")
    week = at.days.hours[(moment.date() - at.days.start).days :][:400].tobytes()
    said = repr((half, blanks, orders, at.places, at.waits, sorted(at.stated.items()))).encode()
    return hashlib.sha256(said + week).hexdigest()


def latest(session: Session, kind: ForecastKind, finished: bool = False) -> Forecast | None:
    """The reckoning that was started last, or the last one that came to its end."""
    statement = select(Forecast).where(Forecast.kind == kind).order_by(col(Forecast.id).desc()).limit(10)
    return next((one for one in session.exec(statement) if one.result is not None or not finished), None)


def under_way(run: Forecast | None) -> bool:
    """Whether it is being reckoned right now."""
    return run is not None and run.result is None and not run.fault and now() - run.touched_at < QUIET


def start(session: Session, kind: ForecastKind, marked: str) -> Forecast | None:
    """Write down that it shall be reckoned; the caller hands it on. None where that is under way already. Commits."""
    find(session, Shop, 1, "shop", lock=True)
    if under_way(latest(session, kind)):
        return None
    for old in session.exec(select(Forecast).where(Forecast.kind == kind).order_by(col(Forecast.id).desc()).offset(5)):
        session.delete(old)
    run = Forecast(kind=kind, mark=marked, total=PARTS)
    session.add(run)
    session.commit()
    return run


def reckon(url: str, run_id: int) -> None:
    """Carry a reckoning out; made to run in a process of its own. What goes wrong is written into it."""
    database = Database(url)
    try:
        with database.read() as session:
            run = find(session, Forecast, run_id, "reckoning")
            kind, at = run.kind, shopfloor.floor(session)
        moment = now().astimezone(at.zone)
        ticker = Ticker(database, run_id)
        work = queue_dates.queue_dates if kind is ForecastKind.QUEUE else hindsight.look_back
        ticker.write(done=PARTS, result=work(at, moment, ticker))
    except Exception:
        log.exception("forecast %s failed", run_id)
        Ticker(database, run_id).write(fault="The reckoning failed; the reason is in the server's log.")
    finally:
        database.close()


class Ticker:
    """Writes down how far a reckoning is, a few times a second at most, in short transactions of its own."""

    def __init__(self, database: Database, run_id: int) -> None:
        self._database, self._run_id = database, run_id
        self._last = now()

    def __call__(self, done: int, _total: int = 0) -> None:
        if now() - self._last > timedelta(milliseconds=250):
            self._last = now()
            self.write(done=done)

    def write(self, **values: Any) -> None:
        with self._database.write() as session:
            run = find(session, Forecast, self._run_id, "reckoning")
            for name, value in values.items():
                setattr(run, name, value)
            run.touched_at = now()
            session.add(run)
            session.commit()
