"""A board's way into a flute: bought, read, sawn, glued up, paid for; nothing of its cost is lost on the way."""

from decimal import Decimal

import pytest
from sqlmodel import Session, select

from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Blank, Species, Stage, StockItem, StockKind, StockMovement, Workshop
from webapp.shop.base.errors import Invalid, NotAllowed, Refused, Stale
from webapp.shop.costs import rules as costs
from webapp.shop.costs.rules import MinutesWere
from webapp.shop.production import opening as blanks
from webapp.shop.settings import workshop
from webapp.shop.settings.workshop import MinutesAsked, SupplyAsked, WorkshopAsked
from webapp.shop.stock import counting, lists as stock_list, rules as stock
from webapp.shop.stock.forms import Counting, NewLot
from webapp.shop.wood import boards, origin, sawing
from webapp.shop.wood.boards import FlawAsked, ReadMoisture
from webapp.shop.wood.plans import demand, purchases
from webapp.shop.wood.plans.demand import WantedAsked
from webapp.shop.wood.sawing import Pieces, Saw

HALF = {"length": 620.0, "width": 40.0, "thickness": 20.0}


def a_board(shop: OpenShop, session: Session, quantity: int = 1, **label: object) -> int:
    asked = {
        "kind": StockKind.BOARD,
        "name": "walnut, wide",
        "species_id": shop.species(),
        "length": 2000.0,
        "width": 150.0,
        "thickness": 27.0,
        "unit_cost": Decimal("60.00"),
        "source": "a sawmill",
        "papers": "invoice 7",
        "quantity": quantity,
    }
    item = stock.add_lot(session, shop.owner, NewLot.model_validate(asked | label))
    assert item.id is not None
    return item.id


def supply(shop: OpenShop, session: Session, kind: StockKind, unit: str, cost: str, usual: float) -> int:
    asked = NewLot.model_validate({"kind": kind, "name": str(kind), "unit": unit, "quantity": 100, "unit_cost": cost})
    item = stock.add_lot(session, shop.owner, asked)
    assert item.id is not None
    workshop.set_supply(session, shop.maker, SupplyAsked(item_id=item.id, quantity=usual))
    return item.id


def test_a_board_becomes_halves_becomes_a_blank_and_keeps_its_cost(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        maker = open_shop.maker
        board_id = a_board(open_shop, session)
        boards.read_moisture(session, maker, board_id, ReadMoisture(percent=9.1))
        boards.read_moisture(session, maker, board_id, ReadMoisture(percent=8.4, note="after a month"))
        assert [one.percent for one in boards.moisture_readings(session, board_id)] == [8.4, 9.1]
        boards.add_flaw(session, maker, board_id, FlawAsked(start=100, end=160, what="knot"))
        boards.add_flaw(session, maker, board_id, FlawAsked(start=1500, end=1540, near_edge=0, far_edge=30))
        with pytest.raises(Invalid, match="both edges"):
            boards.add_flaw(session, maker, board_id, FlawAsked(start=1, end=2, near_edge=4))

        # 1300 of 2000 mm sawn up: 39.00 of 60.00, shared 2 to 1 by volume, to the cent.
        pieces = [Pieces(count=2, **HALF), Pieces(count=1, kind=StockKind.BLOCK_BLANK, **HALF)]
        cut = sawing.saw(session, maker, board_id, Saw(length_after=700, place="rack B"), pieces)
        board = stock.item_of(session, board_id)
        assert (board.length, board.unit_cost, cut.cost) == (700, Decimal("21.00"), Decimal("39.00"))
        assert stock.available(session, board_id) == 1
        assert [(flaw.start, flaw.end) for flaw in boards.flaws(session, board_id)] == [(200, 240)]
        [(_, lots)] = sawing.given_by(session, board_id)
        assert [(sawn.count, sawn.cost, lot.kind) for sawn, lot in lots] == [
            (2, Decimal("26.00"), StockKind.HALVES),
            (1, Decimal("13.00"), StockKind.BLOCK_BLANK),
        ]
        halves = lots[0][1]
        assert (halves.moisture, halves.source, halves.papers, halves.place) == (
            8.4,
            "a sawmill",
            "invoice 7",
            "rack B",
        )
        assert purchases.sawing_yield(session) == pytest.approx(3 * 620 * 40 * 20 / (1300 * 150 * 27))

        # What can't be: more wood than was sawn, a piece longer than that, nothing at all, a board that is gone.
        for asked, given, field in (
            (Saw(length_after=0), [Pieces(count=90, **HALF)], "count_1"),
            (Saw(length_after=100), [Pieces(count=1, **HALF)], "length_1"),
            (Saw(), [], "count_1"),
            (Saw(length_after=700), [Pieces(count=1, **HALF)], "length_after"),
        ):
            with pytest.raises(Invalid) as caught:
                sawing.saw(session, maker, board_id, asked, given)
            assert field in caught.value.errors
        sawing.saw(session, maker, board_id, Saw(), [Pieces(count=1, **HALF)])
        assert stock.available(session, board_id) == 0
        assert boards.flaws(session, board_id) == []
        with pytest.raises(Refused, match="none is left"):
            sawing.saw(session, maker, board_id, Saw(), [Pieces(count=1, **HALF)])
        with pytest.raises(NotAllowed):
            sawing.saw(session, open_shop.viewer, board_id, Saw(), [Pieces(count=1, **HALF)])

        # Into a blank: the chain is whole, the wood costs its exact share.
        workshop_row = {**Workshop().model_dump(exclude={"id"}), "damp_humidity": 65, "dry_humidity": 30}
        owner = open_shop.owner
        workshop.change(session, owner, WorkshopAsked.model_validate(workshop_row | {"hourly_rate": Decimal(30)}))
        with pytest.raises(Stale):
            workshop.change(session, owner, WorkshopAsked.model_validate(workshop_row))
        six = dict.fromkeys(("boring", "gluing", "flue", "voicing", "tuning", "finishing"), 60)
        workshop.change_minutes(session, maker, MinutesAsked.model_validate(six))
        glue = supply(open_shop, session, StockKind.GLUE, "ml", "0.05", 10)
        oil = supply(open_shop, session, StockKind.FINISH, "ml", "0.10", 12)
        revision = made.pattern(session, maker)
        assert halves.id is not None
        [blank] = blanks.open_blanks(session, maker, None, revision, open_shop.species(), halves.id, 1)
        assert blank.id is not None
        chain = origin.origin_of(session, blank)
        assert (chain.board, chain.source, chain.papers_missing) == (board, "a sawmill", False)
        cost = costs.cost_of_blank(session, blank.id)
        assert (cost.material, cost.work, cost.so_far) == (Decimal("27.70"), Decimal("180.00"), 0)
        assert [line.usual for line in cost.materials] == [True, True, True]

        # What is on record takes the place of what is usual; a time of its own that of the usual time.
        stock.use(session, maker, glue, 8, blank.id, "glue-up 1")
        stock.take_reserved(session, maker, blank.id)
        session.commit()
        costs.set_minutes(session, maker, blank.id, MinutesWere(stage=Stage.BORING, minutes=30))
        cost = costs.cost_of_blank(session, blank.id)
        assert (cost.material, cost.work, cost.so_far) == (Decimal("27.60"), Decimal("165.00"), Decimal("41.40"))
        assert costs.take_supplies(session, maker, blank.id) == 1
        assert stock.available(session, oil) == 88
        with pytest.raises(Refused, match="on record"):
            costs.take_supplies(session, maker, blank.id)
        # A later price changes nothing that was taken before.
        session.get_one(StockItem, oil).unit_cost = Decimal("9.00")
        assert costs.cost_of_blank(session, blank.id).material == Decimal("27.60")
        assert [costs.may_see(who) for who in (open_shop.owner, open_shop.office, maker, open_shop.viewer)] == [
            True,
            True,
            False,
            False,
        ]


def test_one_board_of_several_gets_a_label_of_its_own(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        lot_id = a_board(open_shop, session, quantity=3)
        cut = sawing.saw(session, open_shop.maker, lot_id, Saw(length_after=900), [Pieces(count=3, **HALF)])
        assert cut.board_id != lot_id
        assert (stock.available(session, lot_id), stock.available(session, cut.board_id)) == (2, 1)
        assert session.get_one(StockItem, lot_id).length == 2000
        assert session.get_one(StockItem, cut.board_id).length == 900


def test_a_count_sheet_is_recorded_whole_or_not_at_all(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        ids = [a_board(open_shop, session, quantity=n, name=f"board {n}") for n in (2, 3, 4)]
        session.commit()

        def line(index: int, counted: float, why: str = "", said: float | None = None) -> Counting:
            return Counting(item_id=ids[index], counted=counted, why=why, said=said)

        for lines, field in (
            ([line(0, 2), line(1, 2)], f"why_{ids[1]}"),
            ([line(0, 2, said=1)], f"counted_{ids[0]}"),
            ([line(2, 1.5, "half")], f"counted_{ids[2]}"),
            ([], ""),
        ):
            with pytest.raises(Invalid) as caught:
                counting.count_sheet(session, open_shop.maker, lines)
            session.rollback()
            assert field in caught.value.errors
        assert len(session.exec(select(StockMovement)).all()) == 3
        found = counting.count_sheet(
            session, open_shop.maker, [line(0, 2), line(1, 2, "one was sold"), line(2, 4, said=4)]
        )
        assert (found.lots, found.differed) == (3, 1)
        assert [stock.available(session, item_id) for item_id in ids] == [2, 2, 4]


def test_what_is_needed_is_taken_from_the_shelf_first_and_the_rest_is_to_be_bought(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        maker = open_shop.maker
        a_board(open_shop, session, name="reordered", reorder_at=3, usual_order=5)
        large = {"kind": StockKind.HALVES, "name": "walnut halves", "length": 700, "width": 45, "thickness": 22}
        a_board(open_shop, session, quantity=5, **large)
        flute_id = made.order(session)
        revision = made.pattern(session, maker)
        flute = session.get_one(made.OrderedFlute, flute_id)
        assert len(demand.needs(session)[1]) == 1, "no pattern is chosen yet"
        flute.revision_id = revision
        session.add(flute)
        session.commit()
        asked = WantedAsked(species_id=open_shop.species(), count=8, **HALF)
        demand.add_wanted(session, maker, asked)
        found, unplanned = demand.needs(session)
        assert unplanned == []
        assert [(need.order, need.count, need.found, need.short) for need in found] == [(1, 2, 2, 0), (None, 8, 3, 5)]
        [short] = purchases.wood_short(session)
        assert (short.halves, short.longest) == (5, 620)
        assert short.volume == pytest.approx(5 * 620 * 40 * 20 / purchases.USUAL_YIELD)
        [(source, [line])] = purchases.lots_to_buy(session)
        assert (source, line.quantity, line.cost) == ("a sawmill", 5, Decimal("300.00"))
        # Once its blank is open, the flute needs nothing more.
        item = session.exec(select(StockItem.id).where(StockItem.name == "walnut halves")).one()
        blanks.open_blanks(session, maker, flute_id, revision, open_shop.species(), item, 1)
        assert [need.found for need in demand.needs(session)[0]] == [3]
        [wanted] = [need.wanted for need in demand.needs(session)[0]]
        assert wanted is not None
        demand.drop_wanted(session, maker, wanted)
        assert demand.needs(session) == ([], [])


def test_a_restricted_wood_without_papers_is_called_out(open_shop: OpenShop) -> None:
    blank = Blank(serial="x", revision_id=1, species_id=open_shop.species("African blackwood"), key="A4", opened_by=1)
    with open_shop.database.read() as session:
        chain = origin.origin_of(session, blank)
        assert chain.papers_missing
        assert session.get_one(Species, blank.species_id).restricted
        assert stock_list.shelf(session) == []
