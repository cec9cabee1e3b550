"""Glue-ups: clamps, times, warnings, coming out."""

import math
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier

import pytest
from sqlmodel import Session, col, select

from tests import blanks as made
from tests.glue_ups import Clock, spread
from tests.shops import OpenShop
from webapp.models import Adhesive, Blank, BlankStatus, GluedBlank, GlueUp, Outcome, Shop, Stage, StepRecord, StockKind
from webapp.shop.base.errors import Invalid, NotAllowed, NotFound, Refused, ShopError
from webapp.shop.blanks import history
from webapp.shop.glue import adhesives, gluing, rules as glue_up
from webapp.shop.glue.adhesives import BottleAsked
from webapp.shop.glue.rules import CallOff, ClampsOn, TakeOutOfClamps
from webapp.shop.people.accounts import Who
from webapp.shop.production.opening import GiveUp, give_up
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import NewLot


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
        taken = glue_up.take_out(session, maker, made_up.id, TakeOutOfClamps(blanks=[blanks[0].id or 0]))
        assert taken == [blanks[0]]
        assert (blanks[0].waits_for, blanks[0].waits_until) == ("cure", made_up.cured_at)
        assert blanks[1].waits_for == "clamps"
        assert glue_up.places_left(session) == 5
        assert glue_up.take_out(session, maker, made_up.id, TakeOutOfClamps()) == [blanks[1]]
        assert glue_up.places_left(session) == 6
        latest = session.exec(select(StepRecord).order_by(col(StepRecord.id).desc()).limit(2)).all()
        assert {entry.outcome for entry in latest} == {Outcome.PASSED}
        assert all(blank.stage is Stage.GLUING for blank in blanks)
        with pytest.raises(Refused, match="already"):
            glue_up.take_out(session, maker, made_up.id, TakeOutOfClamps())


def test_too_early_only_for_a_reason_that_stays_on_record(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blank = ready(session, maker, 1)[0]
        made_up = spread(session, maker, [blank])
        with pytest.raises(Refused, match="not on yet"):
            glue_up.take_out(session, maker, made_up.id or 0, TakeOutOfClamps(why="hurry"))
        glue_up.clamp(session, maker, made_up.id or 0)
        with pytest.raises(Invalid) as refused:
            glue_up.take_out(session, maker, made_up.id or 0, TakeOutOfClamps())
        assert set(refused.value.errors) == {"why"}
        glue_up.take_out(session, maker, made_up.id or 0, TakeOutOfClamps(why="slipped, must be set again"))
        entry = session.exec(select(StepRecord).order_by(col(StepRecord.id).desc())).first()
        assert entry is not None
        assert (entry.outcome, entry.why) == (Outcome.LET_PASS, "slipped, must be set again")


def test_open_time_that_was_exceeded_is_said_and_written_down(open_shop: OpenShop, clock: Clock) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blank = ready(session, maker, 1)[0]
        made_up = spread(session, maker, [blank])
        clock.go(minutes=10, seconds=30)
        with pytest.raises(Invalid, match="over 3 min ago") as refused:
            glue_up.clamp(session, maker, made_up.id or 0)
        assert set(refused.value.errors) == {"why"}
        glue_up.clamp(session, maker, made_up.id or 0, ClampsOn(why="the film was still wet"))
        assert (glue_up.minutes_over(made_up), made_up.why_late) == (3, "the film was still wet")
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


def test_what_speaks_against_gluing_is_gone_on_with_for_a_reason_and_glue_leaves_the_shelf(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        one, other = ready(session, maker, 2)
        glue = NewLot(kind=StockKind.GLUE, name="white glue", unit="ml", quantity=500)
        item_id = stock.add_lot(session, maker, glue).id
        adhesive = session.exec(select(Adhesive).order_by(col(Adhesive.id))).first()
        assert adhesive is not None and adhesive.id is not None
        adhesive.item_id, adhesive.slower_when_cold = item_id, 2.0
        session.add(adhesive)
        session.commit()
        asked = {
            "lot": "B9",
            "best_before": date(2020, 1, 31),
            "temperature": 15,
            "humidity": 20,
            "moistures": {one.id or 0: (5.0, 8.0), other.id or 0: (13.0, None)},
        }
        with pytest.raises(Invalid) as refused:
            spread(session, maker, [one, other], **asked)
        session.rollback()
        for says in (
            "good until 2020-01-31",
            "The air is at 20 %",
            "too dry",
            "are 3 % apart",
            f"{other.serial} is at 13",
        ):
            assert says in refused.value.errors["why"]
        made_up = spread(session, maker, [one, other], **asked, why="an heirloom bottle")
        assert (made_up.why, len(made_up.warned.splitlines())) == ("an heirloom bottle", 5)
        # 5 degrees colder: 2 to the power 0.5; the dampest half 5 percent above 8: 1.15 to the power 2.5.
        assert made_up.clamp_minutes == math.ceil(45 * 2**0.5 * 1.15**2.5)
        places = session.exec(select(GluedBlank).order_by(col(GluedBlank.blank_id))).all()
        assert [(place.place, place.moisture_one, place.moisture_other) for place in places] == [
            (1, 5, 8),
            (2, 13, None),
        ]
        # Both joints, 180 g/m2 and 1.1 g/ml as of the adhesive, are gone from the shelf.
        area = gluing.joint_area(made.FLUTE)
        assert stock.available(session, item_id or 0) == pytest.approx(500 - 2 * 180 * area / 1e6 / 1.1, abs=0.01)
        assert glue_up.free_places(session) == [3, 4, 5, 6]
        [bottle] = adhesives.bottles(session, adhesive.id)
        assert (bottle.lot, bottle.best_before) == ("B9", date(2020, 1, 31))
        adhesives.empty_bottle(session, maker, bottle.id or 0)
        assert adhesives.bottles(session) == []
        with pytest.raises(NotAllowed):
            adhesives.add_bottle(session, open_shop.viewer, adhesive.id, BottleAsked(lot="x"))


def test_no_more_blanks_than_there_are_clamps(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        shop = session.get(Shop, 1)
        assert shop is not None
        shop.clamp_places = 1
        session.add(shop)
        session.commit()
        blanks = ready(session, maker, 2)
        with pytest.raises(Invalid, match="2 chosen, but there are clamps only for 1"):
            spread(session, maker, blanks)
        spread(session, maker, blanks[:1])
        with pytest.raises(Invalid, match="there are clamps only for 0"):
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
            lambda: glue_up.take_out(session, open_shop.viewer, made_up.id or 0, TakeOutOfClamps(why="x")),
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
