"""The history of one blank."""

import pytest

from tests import blanks as made
from tests.shops import OpenShop
from webapp.shop.bench import readings
from webapp.shop.bench.readings import TakeBackReading
from webapp.shop.blanks import history
from webapp.shop.blanks.history import Of
from webapp.shop.production import stages
from webapp.shop.production.stages import TakeBack


def test_everything_is_told_in_the_order_of_time_with_who_and_corrections(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blank, other = made.opened(session, maker, 2)
        assert blank.id is not None
        made.bring_to(session, maker, blank, "flaws")
        wrong = history.of_blank(session, blank.id)[-1]
        stages.take_back(session, open_shop.owner, wrong.id or 0, TakeBack(why="the other one was meant"))
        made.passed(session, maker, other, "halves")
        lines = history.of_blank(session, blank.id)
        assert [(line.by, line.of, line.what, line.outcome) for line in lines] == [
            ("Tam", Of.DIARY, "Opened from Pattern in A4, revision 1", ""),
            ("Tam", Of.STEP, "Halves chosen and cut", "passed"),
            ("Tam", Of.STEP, "Bores milled", "passed"),
            ("Ines Varga", Of.STEP, "Bores milled", "taken back"),
        ]
        assert [line.taken_back for line in lines] == [False, False, True, False]
        assert lines[-1].why == "the other one was meant"


def test_readings_gauges_and_glue_ups_are_part_of_it(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blank = made.opened(session, maker)[0]
        assert blank.id is not None
        made.bring_to(session, maker, blank, "fundamental")
        made.read_all(session, maker, blank, -7)
        first = next(line for line in history.of_blank(session, blank.id) if line.of is Of.READING)
        readings.take_back(session, maker, first.id or 0, TakeBackReading(why="wind in the room"))
        lines = history.of_blank(session, blank.id)
        gauged = next(line for line in lines if line.what == "Bore gauged")
        assert (gauged.value, gauged.cents) == (19.05, None)
        read = [line for line in lines if line.of is Of.READING]
        assert read[0].taken_back and read[0].cents == pytest.approx(-7, abs=0.01)
        assert read[-1].takes_back and read[-1].why == "wind in the room"
        told = " ".join(line.what for line in lines)
        assert "Glue-up 1 begun with white wood glue (PVA)" in told and "Moved on to voicing" in told
        assert [line.at for line in lines] == sorted(line.at for line in lines)
