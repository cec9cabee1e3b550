"""A flute that came out sharp finds the order that asks for just that, and moves there with one tap."""

import re
from decimal import Decimal

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from acoustics.designing.design import design
from acoustics.designing.request import DesignRequest
from tests import blanks as made
from tests.shops import OpenShop, signed_in
from webapp.models import Blank, Event, Order, OrderedFlute, OrderStatus, Shop, Stage
from webapp.shop.base.errors import Refused
from webapp.shop.base.finding import find
from webapp.shop.bench import cuts, readings
from webapp.shop.bench.cuts import RecordCut
from webapp.shop.bench.readings import RecordReading
from webapp.shop.production import rescue
from webapp.shop.production.rescue import Move

SHARP = 22.0


def a_sharp_flute(shop: OpenShop, session: Session) -> tuple[Blank, int, int]:
    """One for an order in A4 at 440 Hz, cut to its finished sizes and read 22 cents sharp throughout; a confirmed order
    at 446 Hz (23.4 cents higher) and an enquiry for the same, by the ids of their flutes."""
    flute = design(DesignRequest.from_json({"key": "A4", "scale": "minor pentatonic", "holes": 6})).instrument
    made.pattern(session, shop.maker, "A4", flute)
    own, other, asked = (
        made.order(session, status) for status in (OrderStatus.CONFIRMED,) * 2 + (OrderStatus.ENQUIRY,)
    )
    for flute_id in (other, asked):
        wanted = find(session, OrderedFlute, flute_id, "flute")
        wanted.a4 = 446.0
        session.add(wanted)
    (blank,) = made.opened(session, shop.maker, flute_id=own)
    assert blank.id is not None
    blank.stage = Stage.TUNING
    session.add(blank)
    session.flush()
    for control, size in enumerate((flute.foot_x, *(hole.diameter for hole in flute.holes))):
        cuts.record(session, shop.maker, blank.id, RecordCut(control=control, size=size))
    for goal in readings.goals_for(session, blank) * 3:
        pitch = goal.frequency * 2 ** (SHARP / 1200)
        asked_for = RecordReading(
            fingering=goal.fingering, pitch=f"{pitch:.3f}", temperature=20, humidity=50, warmed_up=True
        )
        readings.record(session, shop.maker, blank.id, asked_for)
    return blank, other, asked


def test_it_finds_the_order_and_moves_there(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blank, other, asked = a_sharp_flute(open_shop, session)
        assert blank.id is not None
        left = find(session, OrderedFlute, blank.ordered_flute_id or 0, "flute").order_id
        found = rescue.chances(session, find(session, Shop, 1, "shop"), blank)
        by_flute = {one.flute.id: one for one in found if one.flute}
        assert by_flute[other].movable
        assert by_flute[asked].becomes.possible
        assert not by_flute[asked].movable, "an enquiry is confirmed first"
        assert found[0].flute is not None
        assert found[0].flute.id == other
        with pytest.raises(Refused):
            rescue.move(session, open_shop.maker, blank.id, Move(flute_id=asked))
        with pytest.raises(Refused):
            rescue.move(session, open_shop.maker, blank.id, Move(flute_id=99))
        rescue.move(session, open_shop.maker, blank.id, Move(flute_id=other, why="over-cut"))
        assert blank.ordered_flute_id == other
        goals = readings.goals_for(session, blank)
        # A4 at 446 Hz.
        assert min(goal.frequency for goal in goals) == pytest.approx(446.0)
        order = find(session, Order, find(session, OrderedFlute, other, "flute").order_id, "order")
        assert order.status is OrderStatus.IN_THE_SHOP
        said = session.exec(select(Event.what).where(Event.subject == "order", Event.subject_id == left)).all()
        assert any("needs a new blank" in what for what in said)


def test_the_page_moves_it_with_one_tap_and_hides_amounts(open_shop: OpenShop, client: TestClient) -> None:
    with open_shop.database.write() as session:
        blank, other, _ = a_sharp_flute(open_shop, session)
        serial = blank.serial
        flute = find(session, OrderedFlute, other, "flute")
        flute.price = Decimal(777)
        session.add(flute)
    signed_in(client, "kit")
    page = client.get(f"/blanks/{serial}/rescue")
    assert page.status_code == 200
    assert "Move it there" not in page.text, "who only looks moves nothing"
    assert "777" not in page.text
    signed_in(client, "tam")
    page = client.get(f"/blanks/{serial}/rescue")
    assert f'name="flute_id" value="{other}"' in page.text
    once = re.search(r'name="once"\s+value="([^"]+)"', page.text)
    assert once
    answer = client.post(f"/blanks/{serial}/rescue", data={"flute_id": str(other), "once": once[1]})
    assert answer.status_code == 200
    assert "Print its traveler again" in answer.text
    again = client.post(f"/blanks/{serial}/rescue", data={"flute_id": str(other)})
    assert again.status_code == 409
