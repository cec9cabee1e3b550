"""A flute that comes back: on the rack with its history, read again, given back; and one that was made elsewhere."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import select

from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import BlankStatus, BlankStep, Order, OrderStatus, Repair, RepairKind, Shop, Stage, StepState
from webapp.paper.office.letters import packing_slip
from webapp.paper.traveler.content import traveler
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.bench import readings
from webapp.shop.blanks import history
from webapp.shop.blanks.state import records_of
from webapp.shop.orders import issued, lists as order_list, rules as orders, status_page
from webapp.shop.orders.forms import Withdraw
from webapp.shop.production import opening as blanks, repairs, stages
from webapp.shop.production.repairs import ChangeRepair, Found, FurtherRepair, TakeRepair
from webapp.shop.production.stages import RecordStep, TakeBack


def wanted(**more: Any) -> TakeRepair:
    given: dict[str, Any] = {
        "customer_name": "Rosa Lindqvist",
        "customer_id": "new",
        "kind": RepairKind.RETUNING,
        "asked": "The second note is flat.",
        "price": Decimal(45),
        "status": OrderStatus.CONFIRMED,
        "due_on": date.today() + timedelta(days=30),
    }
    return TakeRepair(**given | more)


def test_a_flute_comes_back_is_retuned_and_goes_home_with_its_whole_history(open_shop: OpenShop) -> None:
    who = open_shop.owner
    with open_shop.database.write() as session:
        flute_id = made.order(session)
        shop = session.get(Shop, 1)
        assert shop is not None
        shop.next_order = 2
        (blank,) = made.opened(session, who, flute_id=flute_id)
        assert blank.id is not None
        made.bring_to(session, who, blank, "")
        first = session.get(Order, 1)
        assert first is not None and blank.status is BlankStatus.FINISHED
        built_at, read_before = blank.finished_at, len(readings.of_blank(session, blank.id))
        # Not while it still waits for the order it was made for.
        early = repairs.take(session, who, wanted(serial=blank.serial.lower()))
        repair = session.exec(select(Repair)).one()
        assert repair.id is not None
        session.commit()
        with pytest.raises(Refused, match="still waits for order 1"):
            repairs.begin(session, who, early.number, repair.id, early.version)
        session.rollback()
        orders.hand_over(session, who, 1, first.version, unpaid=True)
        repairs.begin(session, who, early.number, repair.id, early.version)
        assert (blank.status, blank.stage, blank.due_on) == (BlankStatus.IN_WORK, Stage.VOICING, early.due_on)
        assert early.status is OrderStatus.IN_THE_SHOP
        session.commit()
        with pytest.raises(Refused, match="retuning"):
            blanks.give_up(session, who, blank.id, blanks.GiveUp(why="firewood?"))
        session.rollback()
        printed = traveler(session, blank.serial, who.units, "http://a")
        assert [line.name for stage in printed.stages for line in stage.steps][1] == "Retuned"
        assert (printed.order, printed.repair, printed.extras) == ("2", "retuning", "The second note is flat.")
        # It was in the parcel of the order it was made for, and that order stays finished.
        assert [one.serial for one in packing_slip(session, first).packed] == [blank.serial]
        assert status_page.seen(session, first).pieces == (status_page.Piece("finished", 6),)
        made.passed(session, who, blank, "repair-look")
        session.commit()
        with pytest.raises(Invalid, match="Not read yet"):
            made.passed(session, who, blank, "repair-tune")  # what was read before it came back does not count
        session.rollback()
        made.read_all(session, who, blank, 1.0)
        made.passed(session, who, blank, "repair-tune")
        made.passed(session, who, blank, "repair-check")
        session.refresh(early)
        assert (blank.status, early.status) == (BlankStatus.FINISHED, OrderStatus.READY)
        assert blank.finished_at == built_at, "a repair makes it no younger"
        assert len(readings.of_blank(session, blank.id)) == read_before + len(made.readings.goals_for(session, blank))
        # An entry taken back: it is not done after all.
        last = records_of(session, blank.id)[-1]
        assert last.id is not None
        stages.take_back(session, who, last.id, TakeBack(why="the third note rattles"))
        session.refresh(early)
        assert (early.status, repair.done_at) == (OrderStatus.IN_THE_SHOP, None)
        made.passed(session, who, blank, "repair-check")
        session.refresh(early)
        done = Found(version=early.version, found="Opened the second hole by 0.2 mm.")
        repairs.write_found(session, who, early.number, repair.id, done)
        orders.hand_over(session, who, early.number, early.version, unpaid=True)
        assert (blank.status, blank.finished_at) == (BlankStatus.HANDED_OVER, built_at)
        said = [line.what for line in history.of_blank(session, blank.id)]
        for words in ("Handed over with order 1", "Given back with order 2"):
            assert words in said
        assert [order.number for _, order in repairs.of_blank(session, blank.id)] == [2]


def test_a_repair_broken_off_leaves_the_flute_as_it_came(open_shop: OpenShop) -> None:
    who = open_shop.owner
    with open_shop.database.write() as session:
        (blank,) = made.opened(session, who)
        assert blank.id is not None
        for step in session.exec(select(BlankStep).where(BlankStep.blank_id == blank.id)):
            step.state = StepState.PASSED
        blank.status, blank.stage = BlankStatus.HANDED_OVER, Stage.FINISHING
        session.commit()
        order = repairs.take(session, who, wanted(serial=blank.serial, kind=RepairKind.REPAIR))
        repair = session.exec(select(Repair)).one()
        assert repair.id is not None
        built_of = len(session.exec(select(BlankStep).where(BlankStep.blank_id == blank.id)).all())
        repairs.begin(session, who, order.number, repair.id, order.version)
        look = made.step(session, blank, "repair-look")
        assert look.id is not None
        stages.record(session, who, look.id, RecordStep(outcome="failed", why="beyond help"))
        orders.withdraw(session, who, order.number, Withdraw(version=order.version, why="too dear"))
        assert (blank.status, blank.next_name) == (BlankStatus.HANDED_OVER, None)
        left = session.exec(select(BlankStep).where(BlankStep.blank_id == blank.id)).all()
        assert len(left) == built_of + 1, "what was worked at stays as a fact, the rest is gone"


def test_a_flute_made_elsewhere_is_described_worked_at_and_given_back(open_shop: OpenShop) -> None:
    who = open_shop.office
    with open_shop.database.write() as session:
        (unbuilt,) = made.opened(session, open_shop.maker)
        session.commit()
        for bad, field in [
            ({"whose": "other"}, "described"),
            ({"serial": ""}, "serial"),
            ({"serial": "9999"}, "serial"),
            ({"serial": unbuilt.serial}, "serial"),
            ({"whose": "other", "described": "cedar", "price": None}, "price"),
            ({"whose": "other", "described": "cedar", "due_on": None}, "due_on"),
        ]:
            with pytest.raises(Invalid) as caught:
                repairs.take(session, who, wanted(**bad))
            assert field in caught.value.errors
            session.rollback()
        order = repairs.take(session, who, wanted(whose="other", described="cedar, five holes", price=Decimal(0)))
        (row,) = order_list.repair_rows(session, order)
        assert row.repair.id is not None and row.blank is None and row.stands == "not begun"
        assert issued.of_order(session, order)[0].content["lines"][0]["what"] == "Retuning: cedar, five holes"
        asked = {"whose": "other", "described": "a second one", "asked": "a crack", "version": order.version}
        session.commit()
        with pytest.raises(Invalid, match="say why"):
            repairs.add(session, who, order.number, FurtherRepair(**asked, price=Decimal(20)))
        session.rollback()
        repairs.add(session, who, order.number, FurtherRepair(**asked, price=Decimal(20), why="brought along"))
        second = order_list.repair_rows(session, order)[1].repair
        assert second.id is not None
        dearer = ChangeRepair(version=order.version, asked="a crack", price=Decimal(25), why="longer than it looked")
        repairs.change(session, who, order.number, second.id, dearer)
        for repair in (row.repair, second):
            assert repair.id is not None
            repairs.begin(session, who, order.number, repair.id, order.version)
            session.commit()
            with pytest.raises(Refused, match="was begun"):
                repairs.leave_out(session, who, order.number, repair.id, order.version, "no")
            session.rollback()
            done = Found(version=order.version, found="cleaned and glued")
            repairs.write_found(session, who, order.number, repair.id, done)
        assert order.status is OrderStatus.READY
        orders.hand_over(session, who, order.number, order.version, unpaid=True)
        assert order.status is OrderStatus.HANDED_OVER
