"""Taking blanks through the clamps in a test."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlmodel import Session, select

from webapp.models import Adhesive, Blank, GlueUp
from webapp.shop.blanks import state as blank_state
from webapp.shop.glue import rules as glue_up
from webapp.shop.glue.rules import Spread, TakeOutOfClamps
from webapp.shop.people.accounts import Who
from webapp.shop.production import stages


def spread(session: Session, who: Who, blanks: list[Blank], **more: Any) -> GlueUp:
    """Glue spread on these blanks, with the first adhesive, in a warm room."""
    adhesive = session.exec(select(Adhesive).order_by(Adhesive.id)).first()
    assert adhesive is not None
    ids = [blank.id for blank in blanks]
    asked = {"blanks": ids, "adhesive_id": adhesive.id, "lot": "L7", "temperature": 20, **more}
    return glue_up.spread(session, who, Spread(**asked))


def through_the_clamps(session: Session, who: Who, blank: Blank) -> None:
    """Into the clamps and out again at once, for a stated reason."""
    made = spread(session, who, [blank])
    assert made.id is not None
    glue_up.clamp(session, who, made.id)
    glue_up.take_out(session, who, made.id, TakeOutOfClamps(why="a test can't wait"))


class Clock:
    """A clock that a test sets on by hand, for every rule that asks what time it is."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        from webapp.models import now

        self.ahead = timedelta(0)
        for module in (blank_state, glue_up, stages):
            monkeypatch.setattr(module, "now", lambda: now() + self.ahead)

    def go(self, **span: float) -> None:
        self.ahead += timedelta(**span)

    def read(self) -> datetime:
        return stages.now()
