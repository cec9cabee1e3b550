"""A dozen flutes that the demo's makers timed: more at the tuning bench than their prices are calculated with."""

from datetime import datetime, timedelta
from random import Random
from typing import Final

from sqlmodel import Session, col, select

from webapp.models import Blank, BlankStatus, Stage, at
from webapp.shop.costs import rules as costs
from webapp.shop.costs.rules import MinutesWere
from webapp.shop.people.accounts import Who

SEED: Final = 1907
TIMED: Final = 12
MINUTES: Final = {
    Stage.BORING: 78,
    Stage.GLUING: 28,
    Stage.FLUE: 50,
    Stage.VOICING: 48,
    Stage.TUNING: 104,
    Stage.FINISHING: 62,
}
_OVER: Final = (BlankStatus.FINISHED, BlankStatus.HANDED_OVER)


def watch_the_clock(session: Session, makers: list[Who], today: datetime) -> None:
    """The times of the flutes finished last, stage by stage."""
    dice = Random(SEED)  # noqa: S311  (scatter for a demo, no secret)
    newest = select(Blank.id).where(col(Blank.status).in_(_OVER)).order_by(col(Blank.finished_at).desc()).limit(TIMED)
    with at(today - timedelta(hours=2)):
        for n, blank_id in enumerate(session.exec(newest).all()):
            assert blank_id is not None
            for stage, usual in MINUTES.items():
                took = MinutesWere(stage=stage, minutes=max(5, round(usual * dice.lognormvariate(0.0, 0.22))))
                costs.set_minutes(session, makers[n % len(makers)], blank_id, took)
    session.commit()
