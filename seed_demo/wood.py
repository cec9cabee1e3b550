"""The demo's boards: sizes, sources, flaws, a year of moisture readings; sawing, a cutting plan, what a flute takes."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from sqlmodel import Session, select

from webapp.models import Species, Stage, StockItem, StockKind, at
from webapp.shop.costs import rules as costs
from webapp.shop.costs.rules import MinutesWere
from webapp.shop.people.accounts import Who
from webapp.shop.settings import workshop
from webapp.shop.settings.workshop import SupplyAsked, WorkshopAsked
from webapp.shop.stock import counting, rules as stock
from webapp.shop.stock.forms import Counting, LotAsked, NewLot
from webapp.shop.wood import boards, sawing
from webapp.shop.wood.boards import FlawAsked, ReadMoisture
from webapp.shop.wood.plans import demand, rules as cutting_plans
from webapp.shop.wood.plans.demand import WantedAsked
from webapp.shop.wood.plans.rules import PlanAsked
from webapp.shop.wood.sawing import Pieces, Saw

YARD = "Fernhollow Sawmill"
OTHER_YARD = "Dunmere Timber Yard"


@dataclass(frozen=True, slots=True)
class Plank:
    """A board of the demo [mm]; a flaw is (start, end, near edge, far edge, what)."""

    wood: str
    name: str
    size: tuple[float, float, float]
    cost: str
    place: str
    source: str
    papers: str = ""
    flaws: tuple[tuple[float, float, float | None, float | None, str], ...] = ()


BOARDS = [
    Plank(
        "black walnut",
        "walnut, wide, from the windfall",
        (2140, 190, 28),
        "71.00",
        "loft, left",
        YARD,
        flaws=((610, 690, 40, 95, "knot"), (2020, 2140, None, None, "end check")),
    ),
    Plank(
        "western redcedar",
        "redcedar, quarter sawn, fine rings",
        (2440, 165, 27),
        "44.00",
        "loft, right",
        OTHER_YARD,
        flaws=((1180, 1230, 110, 165, "knot"),),
    ),
    Plank("western redcedar", "redcedar, second of that log", (2435, 152, 27), "41.00", "loft, right", OTHER_YARD),
    Plank(
        "sugar maple",
        "maple, plain",
        (1830, 140, 50),
        "58.00",
        "loft, left",
        YARD,
        flaws=((300, 345, 0, 40, "bark pocket"),),
    ),
    Plank("yellow cedar", "yellow cedar, salvage", (1600, 128, 32), "39.00", "loft, right", OTHER_YARD),
    Plank(
        "rosewood (Dalbergia)",
        "rosewood offcut, for blocks",
        (620, 90, 26),
        "48.00",
        "office, locked",
        "estate of a luthier",
        "Invoice and declaration of old stock in the blue folder, no. 14",
    ),
]
# The loft through the year [percent].
LOFT = [(-300, 9.4), (-210, 8.1), (-120, 7.2), (-30, 8.6)]
SUPPLIES = [
    ("block blanks, walnut offcuts", 1),
    ("white wood glue, opened in spring", 14),
    ("tung oil", 12),
    ("beeswax paste", 4),
    ("waxed cord, undyed", 1.2),
]

SOURCES = [
    ("block blanks, maple", OTHER_YARD, 20),
    ("redwood, halves", OTHER_YARD, 12),
    ("sugar maple, halves", YARD, 16),
    ("tung oil", "Hollin & Daughter, finishes", 500),
    ("white wood glue, opened in spring", "Hollin & Daughter, finishes", 500),
]


def lay_in_boards(session: Session, owner: Who, today: datetime) -> None:
    """Boards and what the shop calculates with; to be called once all flutes of the past are made."""
    with at(today - timedelta(days=320)):
        _calculate_with(session, owner)
    lots = [_board(session, owner, today, plank) for plank in BOARDS]
    with at(today - timedelta(days=40)):
        _label_the_old(session, owner)
        _write_down_sources(session, owner)
    _saw(session, owner, today, lots[2])
    _want(session, owner, today)
    _plan(session, owner, today)
    _count(session, owner, today)
    with at(today - timedelta(days=12)):
        costs.set_minutes(
            session, owner, 3, MinutesWere(stage=Stage.TUNING, minutes=95, why="hole 4 filled and redone")
        )


def _calculate_with(session: Session, owner: Who) -> None:
    values = workshop.workshop(session).model_dump(exclude={"id"})
    values |= {"damp_humidity": 66, "dry_humidity": 31, "hourly_rate": Decimal("28.00"), "kerf": 3.0}
    workshop.change(session, owner, WorkshopAsked.model_validate(values))
    for name, quantity in SUPPLIES:
        item = session.exec(select(StockItem).where(StockItem.name == name)).one()
        assert item.id is not None
        workshop.set_supply(session, owner, SupplyAsked(item_id=item.id, quantity=quantity))


def _board(session: Session, owner: Who, today: datetime, plank: Plank) -> int:
    species = session.exec(select(Species.id).where(Species.name == plank.wood)).one()
    length, width, thickness = plank.size
    asked = NewLot(
        kind=StockKind.BOARD,
        name=plank.name,
        species_id=species,
        length=length,
        width=width,
        thickness=thickness,
        unit_cost=Decimal(plank.cost),
        place=plank.place,
        source=plank.source,
        papers=plank.papers,
        quantity=1,
        note="Stickered in the loft",
    )
    with at(today - timedelta(days=305)):
        item = stock.add_lot(session, owner, asked)
        assert item.id is not None
        for start, end, near, far, what in plank.flaws:
            flaw = FlawAsked(start=start, end=end, near_edge=near, far_edge=far, what=what)
            boards.add_flaw(session, owner, item.id, flaw)
    for n, (days, percent) in enumerate(LOFT):
        with at(today + timedelta(days=days, hours=n)):
            read = ReadMoisture(percent=round(percent + (item.id % 3) * 0.2, 1), note="pin meter, middle of the board")
            boards.read_moisture(session, owner, item.id, read)
    return item.id


def _label_the_old(session: Session, owner: Who) -> None:
    """The boards that came without sizes get them."""
    for name, length, width in (("walnut board, 2.4 m, rift sawn", 2400, 155), ("cherry board, 2.0 m", 2010, 160)):
        item = session.exec(select(StockItem).where(StockItem.name == name)).one()
        assert item.id is not None
        values = item.model_dump(include=set(LotAsked.model_fields))
        values |= {"length": length, "width": width, "thickness": 27, "source": YARD, "usual_order": 2}
        stock.relabel(session, owner, item.id, LotAsked.model_validate(values))
        boards.read_moisture(session, owner, item.id, ReadMoisture(percent=8.3, note="pin meter"))


def _write_down_sources(session: Session, owner: Who) -> None:
    """Where what was there from the start is bought."""
    for name, source, at_a_time in SOURCES:
        item = session.exec(select(StockItem).where(StockItem.name == name)).one()
        assert item.id is not None
        values = item.model_dump(include=set(LotAsked.model_fields)) | {"source": source, "usual_order": at_a_time}
        stock.relabel(session, owner, item.id, LotAsked.model_validate(values))


def _saw(session: Session, owner: Who, today: datetime, board_id: int) -> None:
    with at(today - timedelta(days=25)):
        pieces = [
            Pieces(count=6, length=600, width=42, thickness=21),
            Pieces(count=3, length=540, width=42, thickness=21),
        ]
        asked = Saw(length_after=600, place="rack A, top", note="straight as a line")
        sawing.saw(session, owner, board_id, asked, pieces)


def _want(session: Session, owner: Who, today: datetime) -> None:
    with at(today - timedelta(days=20)):
        for wood, length, count in (("western redcedar", 620, 40), ("black walnut", 640, 30), ("sugar maple", 620, 16)):
            species = session.exec(select(Species.id).where(Species.name == wood)).one()
            assert species is not None
            demand.add_wanted(
                session, owner, WantedAsked(species_id=species, length=length, width=38, thickness=19, count=count)
            )


def _plan(session: Session, owner: Who, today: datetime) -> None:
    with at(today - timedelta(days=1)):
        had = [one.item.id for one in cutting_plans.usable_boards(session) if one.item.id]
        plan = cutting_plans.ask(session, owner, PlanAsked(boards=had, orders=True, ready=True))
        plan.result = cutting_plans.work_out(plan.asked | {"seconds": 1.2}, lambda _: None)
        plan.stage = ""
        session.add(plan)
        session.commit()
        assert plan.id is not None
        cutting_plans.accept(session, owner, plan.id)


def _count(session: Session, owner: Who, today: datetime) -> None:
    with at(today - timedelta(days=5)):
        lines = []
        for name, counted, why in (
            ("tung oil", 870, "the last tin holds less than it says"),
            ("waxed cord, undyed", 38, ""),
            ("beeswax paste", 340, ""),
        ):
            item = session.exec(select(StockItem).where(StockItem.name == name)).one()
            assert item.id is not None
            there = stock.available(session, item.id)
            lines.append(Counting(item_id=item.id, counted=counted if why else there, why=why))
        counting.count_sheet(session, owner, lines)
