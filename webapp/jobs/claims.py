"""Whose a run is, and what becomes of it when its process ends.

A run is a row that says what is asked, how far it is and what came out. The process that has it sends a heartbeat every
few seconds, whether it is being worked at or waits its turn. One that has had none for `LOST` is nobody's any more, and
the first process to see it claims it. What came out first stays: nothing is written into a run that has ended.
"""

from collections.abc import Iterable, Sequence
from datetime import timedelta
from typing import Any, Final, cast

import sqlalchemy as sa
from sqlmodel import Session, SQLModel, col, select

from webapp.db import Database
from webapp.models import CuttingPlan, Forecast, PrintRun, SpreadRun, now

HEARTBEAT: Final = 5.0
"""Seconds from one heartbeat to the next."""
LOST: Final = timedelta(seconds=30)
"""A run without a heartbeat for so long has lost its process. Clocks of several machines may differ by less."""
QUIET: Final = LOST + 3 * timedelta(seconds=HEARTBEAT)
"""After so long nobody has claimed it, and people are told that it stopped."""
TOO_OLD: Final = timedelta(hours=1)
"""What was asked longer ago is not claimed: nobody waits for it, and it may be what ended its processes."""

Run = SpreadRun | CuttingPlan | Forecast | PrintRun


def ended(run: Run) -> bool:
    """Whether it has come to its end, good or bad."""
    result = run.size if isinstance(run, PrintRun) else run.result
    return result is not None or bool(run.fault)


def under_way(run: Run | None) -> bool:
    """Whether a process has it, or soon will."""
    return run is not None and not ended(run) and not _quiet_for(run, QUIET)


def heartbeat(session: Session, table: type[Run], run_ids: Iterable[int]) -> None:
    """Say that these runs have a process. Commits."""
    _stamp(session, table, run_ids, timedelta())


def release(session: Session, table: type[Run], run_ids: Iterable[int]) -> None:
    """Say that these runs have none any more, so that another claims them at once. Commits."""
    _stamp(session, table, run_ids, LOST)


def claim_lost(session: Session, table: type[Run], newest_only: bool = False) -> list[int]:
    """Claim the runs that have lost their process; of those that another claims at this moment, none. Commits.

    `newest_only`: a run is worth nothing once a newer one is asked for, of the same kind.
    """
    moment, rows, claimed = now(), _rows(table), []
    for run in _lost(session, table):
        assert run.id is not None
        if newest_only and _has_newer(session, table, run):
            continue
        mine = sa.update(rows).where(rows.c.id == run.id, rows.c.touched_at == run.touched_at)
        if session.connection().execute(mine.values(touched_at=moment)).rowcount == 1:
            claimed.append(run.id)
    session.commit()
    return claimed


def any_lost(session: Session, table: type[Run]) -> bool:
    """Whether there are runs to claim."""
    return bool(_lost(session, table))


def save(database: Database, table: type[Run], run_id: int, *beside: SQLModel, **values: Any) -> bool:
    """Note how far a run is, or what came out (with rows `beside` it), in a short transaction of its own.

    False, and nothing is written, where it has ended already or is gone.
    """
    with database.write() as session:
        run = cast(Run | None, session.get(table, run_id, with_for_update=True))
        if run is None or ended(run):
            return False
        for name, value in values.items():
            setattr(run, name, value)
        run.touched_at = now()
        session.add_all([run, *beside])
        session.commit()
        return True


def _lost(session: Session, table: type[Run]) -> list[Run]:
    asked = select(table).where(col(table.started_at) > now() - TOO_OLD, col(table.fault) == "").order_by(col(table.id))
    found = cast(Sequence[Run], session.exec(asked).all())
    return [run for run in found if not ended(run) and _quiet_for(run, LOST)]


def _quiet_for(run: Run, span: timedelta) -> bool:
    """A heartbeat of the future was sent before the clock was set back."""
    return abs(now() - run.touched_at) >= span


def _stamp(session: Session, table: type[Run], run_ids: Iterable[int], ago: timedelta) -> None:
    rows, ids = _rows(table), list(run_ids)
    if ids:
        # Past the session's own bookkeeping: an open screen need not know.
        session.connection().execute(sa.update(rows).where(rows.c.id.in_(ids)).values(touched_at=now() - ago))
    session.commit()


def _has_newer(session: Session, table: type[Run], run: Run) -> bool:
    newer = select(table.id).where(col(table.id) > run.id)
    if isinstance(run, Forecast):
        newer = newer.where(Forecast.kind == run.kind)
    return session.exec(newer.limit(1)).first() is not None


def _rows(table: type[Run]) -> sa.Table:
    rows: sa.Table = table.__table__  # type: ignore[union-attr]
    return rows
