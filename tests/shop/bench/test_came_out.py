"""How a pattern's flutes came out: the last readings of finished ones, and nothing else."""

import pytest
from sqlmodel import Session

from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Blank, BlankStatus, PatternRevision, Reading, Stage
from webapp.shop.bench.came_out import came_out


def read(session: Session, shop: OpenShop, blank: Blank, cents: float, stage: Stage = Stage.FINISHING) -> Reading:
    reading = Reading(
        blank_id=blank.id or 0,
        stage=stage,
        fingering="xxxxxx",
        note_name="A4",
        frequency=440.0,
        target=440.0,
        temperature=20,
        humidity=0.5,
        cents=cents,
        by=shop.maker.id,
    )
    session.add(reading)
    session.flush()
    return reading


def test_only_the_last_readings_of_finished_flutes_count(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blanks = made.opened(session, open_shop.maker, 4)
        revision = session.get(PatternRevision, blanks[0].revision_id)
        assert revision is not None
        assert came_out(session, revision) is None
        for blank, cents in zip(blanks, (2.0, -4.0, 5.0, 40.0), strict=True):
            read(session, open_shop, blank, -30.0, Stage.TUNING)
            read(session, open_shop, blank, 9.0)
            read(session, open_shop, blank, cents)
        for blank in blanks[:3]:
            blank.status = BlankStatus.FINISHED
            session.add(blank)
        wrong = read(session, open_shop, blanks[0], 33.0)
        session.add(Reading(**wrong.model_dump(exclude={"id"}) | {"taken_back": True, "corrects_id": wrong.id}))
        session.flush()
        for every in (False, True):
            found = came_out(session, revision, all_revisions=every)
            assert found is not None
            (note,) = found.notes
            assert (found.flutes, sorted(note.cents)) == (3, [-4.0, 2.0, 5.0])
            assert note.mean == pytest.approx(1.0)
            # By hand: deviations 1, -5, 4; (1 + 25 + 16) / 2 = 21.
            assert note.sd == pytest.approx(21**0.5)
            assert note.predicted == 0.0
        session.rollback()


def test_from_two_flutes_no_spread_is_told(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blanks = made.opened(session, open_shop.maker, 2)
        for blank in blanks:
            read(session, open_shop, blank, 1.0)
            blank.status = BlankStatus.HANDED_OVER
            session.add(blank)
        session.flush()
        revision = session.get(PatternRevision, blanks[0].revision_id)
        assert revision is not None
        found = came_out(session, revision)
        assert found is not None
        assert found.notes[0].sd is None
        session.rollback()
