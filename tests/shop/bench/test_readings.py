"""Readings: against their targets, in the room's air, taken back."""

from typing import Any

import pytest
from sqlmodel import Session

from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Blank, Reading, Shop, Stage
from webapp.shop.base.errors import Invalid, NotAllowed, NotFound, Refused
from webapp.shop.bench import readings
from webapp.shop.bench.readings import RecordReading, TakeBackReading
from webapp.shop.people.accounts import Who
from webapp.shop.settings import air


def read(session: Session, who: Who, blank: Blank, **more: Any) -> Reading:
    asked = {"fingering": "xxxxxx", "pitch": "440", "temperature": 20, "humidity": 50, "warmed_up": True, **more}
    assert blank.id is not None
    return readings.record(session, who, blank.id, RecordReading.model_validate(asked))


def voiced(session: Session, who: Who) -> Blank:
    blank = made.opened(session, who)[0]
    made.bring_to(session, who, blank, "fundamental")
    return blank


def test_a_reading_keeps_what_was_typed_and_its_cents_raw_and_corrected(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blank = voiced(session, open_shop.maker)
        cold = read(session, open_shop.maker, blank, pitch="A4 -12", warmed_up=False, temperature="59 F", humidity=40)
        assert (cold.typed, cold.note_name, cold.stage) == ("A4 -12", "A4", Stage.VOICING)
        assert (cold.temperature, cold.humidity) == (pytest.approx(15), 0.4)
        assert cold.target == pytest.approx(440)
        assert readings.raw_cents(cold) == pytest.approx(-12)
        shop = session.get(Shop, 1)
        assert shop is not None
        assert cold.cents == pytest.approx(-12 + air.correction(shop, 15, 0.4, False))
        assert cold.cents > 5


def test_the_last_reading_of_each_note_counts_and_one_taken_back_does_not(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blank = voiced(session, maker)
        first = read(session, maker, blank, pitch="437")
        second = read(session, maker, blank, pitch="452")
        read(session, maker, blank, pitch="520", fingering="xxxxxo")
        assert blank.id is not None and second.id is not None
        last = readings.latest(readings.of_blank(session, blank.id))
        assert last["xxxxxx"].id == second.id and last["xxxxxo"].note_name == "C5"
        gone = readings.take_back(session, open_shop.owner, second.id, TakeBackReading(why="a truck went by"))
        assert (gone.corrects_id, gone.taken_back, gone.note) == (second.id, True, "a truck went by")
        assert readings.latest(readings.of_blank(session, blank.id))["xxxxxx"].id == first.id
        assert len(readings.of_blank(session, blank.id)) == 4
        with pytest.raises(Refused):
            readings.take_back(session, maker, second.id, TakeBackReading(why="again"))
        assert gone.id is not None
        with pytest.raises(Refused):
            readings.take_back(session, maker, gone.id, TakeBackReading(why="undo"))


@pytest.mark.parametrize(
    ("more", "field", "says"),
    [
        ({"pitch": "880"}, "pitch", "1200 cents above A4. Did it jump to the octave"),
        ({"pitch": "E4"}, "pitch", "500 cents below A4"),
        ({"pitch": "loud"}, "pitch", "Write what the meter shows"),
        ({"fingering": "oxxxxx"}, "fingering", "Choose one"),
        ({"fingering": "xxx"}, "fingering", "Choose one"),
    ],
)
def test_what_can_not_be_is_refused_at_its_field(
    open_shop: OpenShop, more: dict[str, Any], field: str, says: str
) -> None:
    with open_shop.database.write() as session:
        blank = voiced(session, open_shop.maker)
        with pytest.raises(Invalid, match=says) as refused:
            read(session, open_shop.maker, blank, **more)
        assert set(refused.value.errors) == {field}


def test_a_blank_without_a_window_can_not_be_read(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blank = made.opened(session, open_shop.maker)[0]
        with pytest.raises(Refused, match="can't sound yet"):
            read(session, open_shop.maker, blank)


def test_a_viewer_reads_nothing_and_what_is_not_there_is_not_found(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blank = voiced(session, open_shop.maker)
        with pytest.raises(NotAllowed):
            read(session, open_shop.viewer, blank)
        with pytest.raises(NotFound):
            readings.take_back(session, open_shop.maker, 4711, TakeBackReading(why="x"))


def test_at_voicing_the_lowest_note_should_stand_a_little_low(open_shop: OpenShop) -> None:
    with open_shop.database.read() as session:
        shop = session.get(Shop, 1)
        assert shop is not None
        assert readings.aim(shop, Stage.VOICING) == -8.0
        assert readings.aim(shop, Stage.TUNING) == readings.aim(shop, Stage.FINISHING) == 0.0
