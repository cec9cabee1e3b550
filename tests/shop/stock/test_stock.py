"""The ledger of stock: nothing is overwritten, nothing is promised twice, every difference is explained."""

from decimal import Decimal

import pytest
from sqlmodel import Session, select

from tests.shops import OpenShop
from webapp.models import MovementReason, Reservation, StockItem, StockKind, StockMovement
from webapp.shop.base.errors import Invalid, NotAllowed, NotFound, Refused
from webapp.shop.stock import lists as stock_list, rules as stock
from webapp.shop.stock.forms import Correct, Count, LotAsked, NewLot, Receive, TakeOut


def halves(shop: OpenShop, session: Session, quantity: float = 12, reorder_at: float | None = None) -> int:
    asked = NewLot(
        kind=StockKind.HALVES,
        name="walnut, plank of March",
        species_id=shop.species(),
        length=620,
        quantity=quantity,
        unit_cost=Decimal("4.50"),
        reorder_at=reorder_at,
    )
    item = stock.add_lot(session, shop.owner, asked)
    assert item.id is not None
    return item.id


def test_what_is_there_is_the_sum_of_what_came_and_went(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        item_id = halves(open_shop, session)
        stock.receive(session, open_shop.maker, item_id, Receive(quantity=8))
        stock.take_out(session, open_shop.maker, item_id, TakeOut(quantity=3, reason=MovementReason.SPOILT))
        assert stock.available(session, item_id) == 17
        moves = [line.movement for line in stock_list.movements(session, item_id)]
        assert [(m.quantity, m.reason) for m in moves] == [(-3, "spoilt"), (8, "received"), (12, "received")]


def test_what_is_spoken_for_is_not_free_and_is_not_promised_twice(open_shop: OpenShop, two_blanks: list[int]) -> None:
    with open_shop.database.write() as session:
        item_id = halves(open_shop, session, 3)
        stock.reserve(session, open_shop.maker, item_id, two_blanks[0], 2)
        session.commit()
        with pytest.raises(Refused, match="1 piece free, 2 pieces needed"):
            stock.reserve(session, open_shop.maker, item_id, two_blanks[1], 2)
        assert stock.available(session, item_id) == 1


def test_taking_what_was_reserved_uses_it_once(open_shop: OpenShop, two_blanks: list[int]) -> None:
    with open_shop.database.write() as session:
        item_id = halves(open_shop, session, 4)
        stock.reserve(session, open_shop.maker, item_id, two_blanks[0], 2)
        for _ in range(2):
            stock.take_reserved(session, open_shop.maker, two_blanks[0])
            session.commit()
        lot = stock_list.lot(session, stock.item_of(session, item_id))
        assert (lot.there, lot.spoken_for, lot.free) == (2, 0, 2)
        used = session.exec(select(StockMovement).where(StockMovement.blank_id == two_blanks[0])).all()
        assert [(m.quantity, m.reason) for m in used] == [(-2, MovementReason.USED)]


def test_giving_back_frees_what_was_not_used_yet_and_moves_nothing(open_shop: OpenShop, two_blanks: list[int]) -> None:
    with open_shop.database.write() as session:
        item_id = halves(open_shop, session, 4)
        stock.reserve(session, open_shop.maker, item_id, two_blanks[0], 2)
        stock.give_back(session, open_shop.maker, two_blanks[0], "a knot in one half")
        session.commit()
        assert stock.available(session, item_id) == 4
        ended = session.exec(select(Reservation)).one()
        assert ended.ended_at is not None
        assert "a knot in one half" in ended.ended_why
        assert len(stock_list.movements(session, item_id)) == 1


def test_a_count_that_differs_needs_an_explanation(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        item_id = halves(open_shop, session, 12)
        with pytest.raises(Invalid) as caught:
            stock.count(session, open_shop.maker, item_id, Count(counted=10))
        assert "12 pieces" in caught.value.errors["why"]
        assert "2 pieces missing" in caught.value.errors["why"]
        stock.count(session, open_shop.maker, item_id, Count(counted=10, why="two split while drying"))
        assert stock.available(session, item_id) == 10
        stock.count(session, open_shop.maker, item_id, Count(counted=10))
        assert stock.available(session, item_id) == 10


def test_a_correction_adds_a_line_that_names_the_first(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        item_id = halves(open_shop, session, 12)
        first = stock_list.movements(session, item_id)[0].movement
        assert first.id is not None
        right = stock.correct(session, open_shop.maker, first.id, Correct(quantity=10, why="two were cherry"))
        assert (right.quantity, right.corrects_id) == (-2, first.id)
        assert first.quantity == 12
        again = stock.correct(session, open_shop.maker, first.id, Correct(quantity=11, why="one was walnut after all"))
        assert again.quantity == 1
        assert stock.available(session, item_id) == 11
        with pytest.raises(Invalid, match="already says"):
            stock.correct(session, open_shop.maker, first.id, Correct(quantity=11, why="x"))
        assert again.id is not None
        with pytest.raises(Refused, match="itself a correction"):
            stock.correct(session, open_shop.maker, again.id, Correct(quantity=1, why="x"))


def test_a_lot_at_its_reorder_point_is_to_be_bought_and_an_empty_one_leaves_the_shelf(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        watched, plain = halves(open_shop, session, 3, reorder_at=2), halves(open_shop, session, 3)
        assert not any(lot.below for lot in stock_list.shelf(session))
        for item_id in (watched, plain):
            stock.take_out(session, open_shop.maker, item_id, TakeOut(quantity=3))
        on_shelf = {lot.item.id: lot.below for lot in stock_list.shelf(session, StockKind.HALVES)}
        assert on_shelf == {watched: True}
        assert [lot.item.id for lot in stock_list.shelf(session, used_up=True)] == [plain]
        stock.receive(session, open_shop.maker, plain, Receive(quantity=1))
        assert {lot.item.id for lot in stock_list.shelf(session)} == {watched, plain}


def test_amounts_that_cannot_be_are_refused(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        item_id = halves(open_shop, session, 3)
        with pytest.raises(Invalid, match="whole numbers"):
            stock.receive(session, open_shop.maker, item_id, Receive(quantity=1.5))
        with pytest.raises(Invalid, match="Only 3 pieces"):
            stock.take_out(session, open_shop.maker, item_id, TakeOut(quantity=4))
        with pytest.raises(Invalid, match="Choose the wood"):
            stock.add_lot(session, open_shop.maker, NewLot(kind=StockKind.BOARD, name="a board", quantity=1))
        with pytest.raises(NotFound):
            stock.receive(session, open_shop.maker, 2**40, Receive(quantity=1))


def test_relabelling_keeps_what_the_ledger_rests_on(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        item_id = halves(open_shop, session, 3)
        asked = LotAsked(kind=StockKind.GLUE, unit="ml", name="walnut, wide halves", width=31.75, place="bin 4")
        item = stock.relabel(session, open_shop.maker, item_id, asked)
        assert (item.kind, item.unit, item.species_id) == (StockKind.HALVES, "piece", open_shop.species())
        assert (item.name, item.width, item.place) == ("walnut, wide halves", 31.75, "bin 4")


@pytest.mark.parametrize("act", ["add", "receive", "take_out", "count", "correct", "relabel"])
def test_someone_who_may_only_look_changes_nothing(open_shop: OpenShop, act: str) -> None:
    who = open_shop.viewer
    with open_shop.database.write() as session:
        item_id = halves(open_shop, session, 3)
        acts = {
            "add": lambda: stock.add_lot(session, who, NewLot(kind=StockKind.GLUE, name="glue", unit="ml", quantity=1)),
            "receive": lambda: stock.receive(session, who, item_id, Receive(quantity=1)),
            "take_out": lambda: stock.take_out(session, who, item_id, TakeOut(quantity=1)),
            "count": lambda: stock.count(session, who, item_id, Count(counted=3)),
            "correct": lambda: stock.correct(session, who, 1, Correct(quantity=1, why="x")),
            "relabel": lambda: stock.relabel(session, who, item_id, LotAsked(kind=StockKind.HALVES, name="x")),
        }
        with pytest.raises(NotAllowed):
            acts[act]()
        assert len(session.exec(select(StockMovement)).all()) == 1
        assert session.exec(select(StockItem.name)).all() == ["walnut, plank of March"]
