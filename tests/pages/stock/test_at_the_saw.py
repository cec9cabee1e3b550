"""A cutting plan that can be followed, flaws on the board that has them, and labels that keep their size."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

from fastapi.testclient import TestClient
from sqlmodel import Session

from tests.shops import OpenShop
from webapp.models import CuttingPlan, Units, now
from webapp.paper.shelf import labels
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import NewLot
from webapp.shop.units.rough import rough_length
from webapp.shop.wood import boards
from webapp.shop.wood.boards import FlawAsked
from webapp.shop.wood.plans import rules as plans
from webapp.shop.wood.plans.rules import Usable
from webapp.shop.wood.plans.shown import shown

RULES = {"kerf": 3.175, "resaw_kerf": 2.0, "ends": 12.7, "edges": 6.35, "shortest_rest": 100.0}
INCH = 25.4


def lot(shop: OpenShop, session: Session, quantity: int, **more: Any) -> int:
    asked = NewLot(
        kind="board",
        name="walnut from the valley",
        species_id=shop.species(),
        quantity=quantity,
        length=48 * INCH,
        width=6 * INCH,
        thickness=1 * INCH,
        **more,
    )
    item = stock.add_lot(session, shop.maker, asked)
    assert item.id is not None
    return item.id


def planned(session: Session, shop: OpenShop, item_id: int) -> CuttingPlan:
    [usable] = [one for one in plans.usable_boards(session) if one.item.id == item_id]
    made = CuttingPlan(
        asked={
            "boards": [plans._board(session, replace(usable), copy) for copy in range(usable.count)],
            "rules": RULES,
            "seconds": 2,
        },
        result={
            "woods": [
                {
                    "wood": shop.species(),
                    "wants": [
                        {"length": 20 * INCH, "width": 1.5 * INCH, "thickness": 0.75 * INCH, "count": 4, "short": 0,
                         "why": "order 1"}
                    ],
                    "cuts": [
                        {
                            "board": 0,
                            "sawn": 41 * INCH,
                            "strips": [
                                {"y": 8.0, "width": 1.5 * INCH, "blocks": [
                                    {"x": 12.7, "want": 0, "pieces": 1}, {"x": 21 * INCH, "want": 0, "pieces": 1}]},
                                {"y": 52.0, "width": 1.5 * INCH, "blocks": [
                                    {"x": 12.7, "want": 0, "pieces": 1}, {"x": 21 * INCH, "want": 0, "pieces": 1}]},
                            ],
                        }
                    ],
                    "sawn": 1e6, "pieces": 5e5, "bound": 1e6, "gap": 0.0, "fewest_short_proven": True,
                }
            ]
        },
        started_by=shop.maker.id,
        started_at=now() - timedelta(minutes=5),
    )  # fmt: skip
    session.add(made)
    session.flush()
    return made


def test_a_plan_says_each_cut_in_its_order_with_kerf_trim_and_running_measures(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        plan = planned(session, open_shop, lot(open_shop, session, 1))
        found = shown(session, plan)
        assert found is not None
        [board] = found.woods[0].boards
        assert board.steps(RULES, lambda mm: rough_length(mm, Units.INCH)) == [
            'Trim 1/2" off the marked end. Crosscut at 41" from the marked end; 7" goes back.',
            'Straighten one edge: 1/4" off.',
            'Rip from that edge, in this order: 2 of 1 1/2". Each cut takes 1/8".',
            'Strips 1 to 2: crosscut from the marked end 1/2" to 20 1/2" (piece 1), 21" to 41" (piece 1).',
        ]
        assert [round(mm / INCH, 3) for mm in board.running] == [0.5, 20.5, 21.0, 41.0]


def test_a_knot_on_one_board_of_two_is_on_that_one_alone(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        item_id = lot(open_shop, session, 2)
        boards.add_flaw(session, open_shop.maker, item_id, FlawAsked(start=100, end=120, what="knot", board=2))
        [usable] = [one for one in plans.usable_boards(session) if one.item.id == item_id]
        assert isinstance(usable, Usable)
        one, two = (plans._board(session, usable, copy) for copy in range(2))
        assert one["flaws"] == [] and two["flaws"] == [{"start": 100, "end": 120, "near": None, "far": None}]


def test_a_plan_made_before_a_flaw_was_marked_says_so(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        item_id = lot(open_shop, session, 2)
        plan_id = planned(session, open_shop, item_id).id
    assert "Older than a flaw." not in client.get(f"/stock/plans/{plan_id}").text
    marked = client.post(f"/stock/{item_id}/flaws", data={"start": "100", "end": "120", "what": "knot", "board": "2"})
    assert "board 2" in marked.text and "walnut from the valley, board 2 of 2" in marked.text
    assert client.post(f"/stock/{item_id}/flaws", data={"start": "9", "end": "12", "board": "3"}).status_code == 422
    page = client.get(f"/stock/plans/{plan_id}").text
    assert "Older than a flaw." in page and f"lot {item_id}" in page and "<li>Rip from that edge" in page


def test_a_label_never_cuts_a_size_off(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        item_id = lot(open_shop, session, 1, place="the rack behind the door, third arm")
        [label] = labels.labels_for(session, Units.INCH, "http://shop", [item_id], [])
        assert label.size == '48" × 6" × 1"'
        assert label.size not in label.lines
