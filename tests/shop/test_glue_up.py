"""Glue-ups: clamps, times, warnings, coming out."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from sqlmodel import Session, col, select

from tests import blanks as made
from tests.glue_ups import Clock, spread
from tests.shops import OpenShop
from webapp.models import Adhesive, Blank, BlankStatus, GlueUp, Outcome, Shop, Stage, StepRecord
from webapp.shop import glue_up, history
from webapp.shop.accounts import Who
from webapp.shop.blanks import GiveUp, give_up
from webapp.shop.errors import Invalid, NotAllowed, NotFound, Refused, ShopError
from webapp.shop.glue_up import CallOff, TakeOut


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    return Clock(monkeypatch)


def ready(session: Session, who: Who, count: int) -> list[Blank]:
    blanks = made.opened(session, who, count)
    for blank in blanks:
        made.bring_to(session, who, blank, "glue-up")
    return blanks


def minutes(made_up: GlueUp, what: str) -> float:
    assert made_up.clamped_at is not None
    return float((getattr(made_up, what) - made_up.clamped_at).total_seconds() / 60)


def test_spread_clamped_out_and_cured_in_their_times(open_shop: OpenShop, clock: Clock) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blanks = ready(session, maker, 2)
        made_up = spread(session, maker, blanks)
        assert made_up.id is not None
        assert (made_up.open_minutes, made_up.clamp_minutes, made_up.lot) == (8, 45, "L7")
        assert [(blank.waits_for, blank.waits_until) for blank in blanks] == [("glue", None)] * 2
        assert glue_up.places_left(session) == 4
        clock.go(minutes=5)
        glue_up.clamp(session, maker, made_up.id)
        assert (minutes(made_up, "out_at"), minutes(made_up, "cured_at")) == (45, 24 * 60)
        assert glue_up.minutes_over(made_up) == 0
        assert [(blank.waits_for, blank.waits_until) for blank in blanks] == [("clamps", made_up.out_at)] * 2
        clock.go(minutes=46)
        taken = glue_up.take_out(session, maker, made_up.id, TakeOut(blanks=[blanks[0].id or 0]))
        assert taken == [blanks[0]]
        assert (blanks[0].waits_for, blanks[0].waits_until) == ("cure", made_up.cured_at)
        assert blanks[1].waits_for == "clamps"
        assert glue_up.places_left(session) == 5
        assert glue_up.take_out(session, maker, made_up.id, TakeOut()) == [blanks[1]]
        assert glue_up.places_left(session) == 6
        latest = session.exec(select(StepRecord).order_by(col(StepRecord.id).desc()).limit(2)).all()
        assert {entry.outcome for entry in latest} == {Outcome.PASSED}
        assert all(blank.stage is Stage.GLUING for blank in blanks)
        with pytest.raises(Refused, match="already"):
            glue_up.take_out(session, maker, made_up.id, TakeOut())


def test_too_early_only_for_a_reason_that_stays_on_record(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blank = ready(session, maker, 1)[0]
        made_up = spread(session, maker, [blank])
        with pytest.raises(Refused, match="not on yet"):
            glue_up.take_out(session, maker, made_up.id or 0, TakeOut(why="hurry"))
        glue_up.clamp(session, maker, made_up.id or 0)
        with pytest.raises(Invalid) as refused:
            glue_up.take_out(session, maker, made_up.id or 0, TakeOut())
        assert set(refused.value.errors) == {"why"}
        glue_up.take_out(session, maker, made_up.id or 0, TakeOut(why="slipped, must be set again"))
        entry = session.exec(select(StepRecord).order_by(col(StepRecord.id).desc())).first()
        assert entry is not None
        assert (entry.outcome, entry.why) == (Outcome.LET_PASS, "slipped, must be set again")


def test_open_time_that_was_exceeded_is_said_and_written_down(open_shop: OpenShop, clock: Clock) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blank = ready(session, maker, 1)[0]
        made_up = spread(session, maker, [blank])
        clock.go(minutes=10, seconds=30)
        glue_up.clamp(session, maker, made_up.id or 0)
        assert glue_up.minutes_over(made_up) == 3
        told = [line.what for line in history.of_blank(session, blank.id or 0)]
        assert "Clamped 3 min after the open time of 8 min: watch that joint" in told


def test_a_room_colder_than_the_glue_allows_needs_a_reason(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blank = ready(session, maker, 1)[0]
        with pytest.raises(Invalid, match="12 °C is colder than white wood glue") as refused:
            spread(session, maker, [blank], temperature=12)
        assert set(refused.value.errors) == {"why"}
        spread(session, maker, [blank], temperature=12, why="a heat lamp stands over it")
        assert blank.waits_for == "glue"


def test_no_more_blanks_than_there_are_clamps(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        shop = session.get(Shop, 1)
        assert shop is not None
        shop.clamp_places = 1
        session.add(shop)
        session.commit()
        blanks = ready(session, maker, 2)
        with pytest.raises(Invalid, match="2 chosen, but clamps are left for 1"):
            spread(session, maker, blanks)
        spread(session, maker, blanks[:1])
        with pytest.raises(Invalid, match="clamps are left for 0"):
            spread(session, maker, blanks[1:])


def test_only_blanks_that_are_ready_are_glued(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        early = made.opened(session, maker)[0]
        with pytest.raises(Invalid, match="'Halves chosen and cut' comes first"):
            spread(session, maker, [early])
        blank = ready(session, maker, 1)[0]
        spread(session, maker, [blank])
        with pytest.raises(Invalid, match="in a glue-up already"):
            spread(session, maker, [blank])
        with pytest.raises(NotFound):
            glue_up.clamp(session, maker, 99)


def test_an_adhesive_that_is_not_there_is_refused_at_its_field(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blank = ready(session, open_shop.maker, 1)[0]
        with pytest.raises(Invalid) as refused:
            spread(session, open_shop.maker, [blank], adhesive_id=99)
        assert set(refused.value.errors) == {"adhesive_id"}


def test_later_edits_of_an_adhesive_change_no_glue_up(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blank = ready(session, maker, 1)[0]
        made_up = spread(session, maker, [blank])
        adhesive = session.get(Adhesive, made_up.adhesive_id)
        assert adhesive is not None
        adhesive.clamp_minutes = 300
        session.add(adhesive)
        session.commit()
        glue_up.clamp(session, maker, made_up.id or 0)
        assert minutes(made_up, "out_at") == 45


def test_a_glue_up_called_off_gives_its_blanks_and_clamps_back(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blank = ready(session, maker, 1)[0]
        made_up = spread(session, maker, [blank])
        glue_up.call_off(session, maker, made_up.id or 0, CallOff(why="wrong lot, washed off"))
        assert (blank.waits_for, blank.next_name) == (None, "Glue-up")
        assert glue_up.places_left(session) == 6
        with pytest.raises(Refused, match="called off"):
            glue_up.clamp(session, maker, made_up.id or 0)
        again = spread(session, maker, [blank])
        glue_up.clamp(session, maker, again.id or 0)
        with pytest.raises(Refused, match="clamps are on"):
            glue_up.call_off(session, maker, again.id or 0, CallOff(why="no"))


def test_firewood_leaves_its_clamps(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blank = ready(session, maker, 1)[0]
        made_up = spread(session, maker, [blank])
        glue_up.clamp(session, maker, made_up.id or 0)
        give_up(session, maker, blank.id or 0, GiveUp(why="split under the clamp"))
        assert (blank.status, blank.waits_for) == (BlankStatus.FIREWOOD, None)
        assert glue_up.places_left(session) == 6


def test_a_viewer_glues_nothing(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blank = ready(session, open_shop.maker, 1)[0]
        with pytest.raises(NotAllowed):
            spread(session, open_shop.viewer, [blank])
        made_up = spread(session, open_shop.maker, [blank])
        for forbidden in (
            lambda: glue_up.clamp(session, open_shop.viewer, made_up.id or 0),
            lambda: glue_up.take_out(session, open_shop.viewer, made_up.id or 0, TakeOut(why="x")),
            lambda: glue_up.call_off(session, open_shop.viewer, made_up.id or 0, CallOff(why="x")),
        ):
            with pytest.raises(NotAllowed):
                forbidden()


def test_the_last_clamps_are_not_given_out_twice(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        shop = session.get(Shop, 1)
        assert shop is not None
        shop.clamp_places = 1
        session.add(shop)
        session.commit()
        blanks = ready(session, open_shop.maker, 3)
    together = Barrier(3)

    def one(blank: Blank) -> bool:
        together.wait()
        try:
            with open_shop.database.write() as session:
                spread(session, open_shop.maker, [blank])
            return True
        except ShopError:
            return False

    with ThreadPoolExecutor(3) as people:
        assert sorted(people.map(one, blanks)) == [False, False, True]
