"""Opening blanks and giving them up."""

from datetime import date

import pytest
from sqlmodel import select

from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import (
    Blank,
    BlankStatus,
    BlankStep,
    Event,
    Order,
    OrderedFlute,
    OrderStatus,
    PatternRevision,
    Stage,
    StepKind,
    StockKind,
)
from webapp.shop.base.errors import Invalid, NotAllowed, NotFound, Refused
from webapp.shop.production import opening as blanks
from webapp.shop.production.opening import GiveUp
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import NewLot


def halves(shop: OpenShop, quantity: float, species: str = "black walnut") -> int:
    with shop.database.write() as session:
        asked = NewLot(kind=StockKind.HALVES, name="walnut halves", species_id=shop.species(species), quantity=quantity)
        item = stock.add_lot(session, shop.owner, asked)
    assert item.id is not None
    return item.id


def test_each_blank_gets_a_serial_and_its_own_steps_with_gauges_from_the_pattern(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        first, second = made.opened(session, open_shop.maker, 2)
        assert (first.serial, second.serial) == ("0001", "0002")
        assert (first.stage, first.status, first.key) == (Stage.BORING, BlankStatus.IN_WORK, "A4")
        assert (first.next_name, first.next_kind) == ("Halves chosen and cut", StepKind.WORK)
        bore = made.step(session, first, "bore-gauge")
        assert (bore.nominal, bore.low, bore.high) == (19.05, 18.85, 19.35)
        assert made.step(session, first, "turned").nominal == pytest.approx(19.05 + 2 * 4.8)
        assert made.step(session, first, "hole-6").high == pytest.approx(0.92 * 7.0, abs=0.05)
        assert {step.stage for step in session.exec(select(BlankStep))} == set(Stage)
        # The next batch goes on where this one ended.
        assert made.opened(session, open_shop.maker)[0].serial == "0003"


def test_a_later_pattern_size_changes_no_blank_that_is_open(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blank = made.opened(session, open_shop.maker)[0]
        revision = session.get(PatternRevision, blank.revision_id)
        assert revision is not None
        revision.instrument = {**revision.instrument, "window": {"length": 6.0, "width": 12.0}}
        session.add(revision)
        session.commit()
        assert made.step(session, blank, "window-length").nominal == 5.5


def test_an_order_that_was_confirmed_is_in_the_shop_and_gives_its_due_date(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        flute_id = made.order(session)
        blank = made.opened(session, open_shop.office, flute_id=flute_id)[0]
        assert blank.due_on == date(2031, 5, 2)
        flute = session.get(OrderedFlute, flute_id)
        assert flute is not None and flute.revision_id == blank.revision_id
        order = session.get(Order, flute.order_id)
        assert order is not None and order.status is OrderStatus.IN_THE_SHOP
        said = session.exec(select(Event.what).where(Event.subject == "order", Event.subject_id == order.id)).all()
        assert said == ["Blank 0001 opened"]


@pytest.mark.parametrize(
    "status", [OrderStatus.ENQUIRY, OrderStatus.QUOTED, OrderStatus.HANDED_OVER, OrderStatus.WITHDRAWN]
)
def test_nothing_is_opened_for_an_order_that_is_not_to_be_made(open_shop: OpenShop, status: OrderStatus) -> None:
    with open_shop.database.write() as session:
        flute_id = made.order(session, status)
        with pytest.raises(Refused):
            made.opened(session, open_shop.maker, flute_id=flute_id)
        session.rollback()
        assert session.exec(select(Blank)).all() == []


def test_a_pattern_in_another_key_is_refused(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        flute_id = made.order(session, key="G4")
        with pytest.raises(Refused, match="asks for G4"):
            made.opened(session, open_shop.maker, flute_id=flute_id)


def test_the_same_pitch_by_another_name_will_do(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        flute_id = made.order(session, key="Bb4")
        assert made.opened(session, open_shop.maker, flute_id=flute_id, key="A#4")[0].key == "A#4"


def test_two_halves_are_spoken_for_by_each_blank_and_are_used_with_the_first_boring_step(open_shop: OpenShop) -> None:
    item = halves(open_shop, 10)
    maker, species = open_shop.maker, open_shop.species()
    with open_shop.database.write() as session:
        revision = made.pattern(session, maker)
        first, second = blanks.open_blanks(session, maker, None, revision, species, item, 2)
        assert stock.available(session, item) == 6
        made.passed(session, maker, first, "halves")
        assert stock.available(session, item) == 6
        # The first one's wood is cut: giving it up brings nothing back. The second's is still on the shelf.
        blanks.give_up(session, maker, first.id or 0, GiveUp(why="split at the plug"))
        assert stock.available(session, item) == 6
        blanks.give_up(session, maker, second.id or 0, GiveUp(why="not wanted"))
        assert stock.available(session, item) == 8


def test_all_or_none_are_opened_when_the_wood_runs_short(open_shop: OpenShop) -> None:
    item = halves(open_shop, 3)
    with open_shop.database.write() as session:
        revision = made.pattern(session, open_shop.maker)
        with pytest.raises(Refused, match="free"):
            blanks.open_blanks(session, open_shop.maker, None, revision, open_shop.species(), item, 2)
        session.rollback()
        assert session.exec(select(Blank)).all() == []
        assert stock.available(session, item) == 3
        assert made.opened(session, open_shop.maker)[0].serial == "0001"


def test_the_wood_of_the_lot_must_be_the_wood_of_the_blank(open_shop: OpenShop) -> None:
    item = halves(open_shop, 3, "sugar maple")
    with open_shop.database.write() as session:
        revision = made.pattern(session, open_shop.maker)
        with pytest.raises(Invalid, match="not black walnut"):
            blanks.open_blanks(session, open_shop.maker, None, revision, open_shop.species(), item, 1)


@pytest.mark.parametrize("count", [0, -1, 51])
def test_an_absurd_number_of_blanks_is_refused(open_shop: OpenShop, count: int) -> None:
    with open_shop.database.write() as session, pytest.raises(Invalid):
        made.opened(session, open_shop.maker, count)


def test_a_viewer_opens_nothing_and_gives_nothing_up(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blank = made.opened(session, open_shop.maker)[0]
        with pytest.raises(NotAllowed):
            blanks.open_blanks(session, open_shop.viewer, None, blank.revision_id, blank.species_id, None, 1)
        with pytest.raises(NotAllowed):
            blanks.give_up(session, open_shop.viewer, blank.id or 0, GiveUp(why="no"))


def test_what_does_not_exist_is_not_found(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        with pytest.raises(NotFound):
            blanks.open_blanks(session, open_shop.maker, None, 99, open_shop.species(), None, 1)
        with pytest.raises(NotFound):
            blanks.give_up(session, open_shop.maker, 99, GiveUp(why="gone"))


def test_firewood_stays_firewood(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blank = made.opened(session, open_shop.maker)[0]
        blanks.give_up(session, open_shop.maker, blank.id or 0, GiveUp(why="worm holes"))
        assert (blank.status, blank.next_name) == (BlankStatus.FIREWOOD, None)
        with pytest.raises(Refused):
            blanks.give_up(session, open_shop.maker, blank.id or 0, GiveUp(why="again"))
        with pytest.raises(Refused, match="firewood"):
            made.passed(session, open_shop.maker, blank, "halves")


def test_the_drawing_hears_how_far_a_blank_is(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        bored, tuned = made.opened(session, open_shop.maker, 2)
        made.bring_to(session, open_shop.maker, bored, "flaws")
        made.bring_to(session, open_shop.maker, tuned, "hole-1")
        assert bored.id is not None and tuned.id is not None
        done = blanks.progress(session, [bored.id, tuned.id])
        assert done[bored.id] == {"bore"}
        assert done[tuned.id] == {"bore", "glue-up", "flue", "window", "block", "turned"}
        made.passed(session, open_shop.maker, tuned, "hole-1")
        assert "holes" in blanks.progress(session, [tuned.id])[tuned.id]
