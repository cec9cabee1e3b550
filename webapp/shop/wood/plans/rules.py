"""Cutting plans of the shop: requested, calculated in the background, reviewed, accepted, then sawn board by board.

The input is copied into the plan when it is requested, so that it can be read later as it was. Progress is kept in the
database, so that any process of the server can show it.
"""

from dataclasses import asdict, dataclass
from typing import Annotated, Any

from pydantic import BaseModel, Field
from sqlmodel import Session, col, select

from webapp.db import Database
from webapp.jobs import claims
from webapp.models import CuttingPlan, Sawing, Shop, Species, StockItem, StockKind, now
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.base.finding import LARGEST_ID, find
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.settings.workshop import workshop
from webapp.shop.stock.lists import shelf
from webapp.shop.wood import boards
from webapp.shop.wood.plans.demand import needs
from webapp.shop.wood.plans.problem import Board, Flaw, Plan, Rules, Want
from webapp.shop.wood.plans.solver import plan

FOR_ORDERS = 20.0
"""A half short for an order weighs as much as so many halves to keep ready."""
MOST_BOARDS = 60

Id = Annotated[int, Field(ge=1, le=LARGEST_ID)]


class PlanAsked(BaseModel):
    """Which boards may be cut, and what for."""

    boards: Annotated[list[Id], Field(max_length=MOST_BOARDS)] = []
    orders: bool = False
    ready: bool = False


@dataclass(frozen=True, slots=True)
class Usable:
    """A board that a plan can use, and how many alike are free."""

    item: StockItem
    species: Species
    count: int


def usable_boards(session: Session) -> list[Usable]:
    """The free boards whose sizes are known; others need them on their label first."""
    return [
        Usable(lot.item, lot.species, int(lot.free))
        for lot in shelf(session, StockKind.BOARD)
        if lot.species and lot.free >= 1 and lot.item.length and lot.item.width and lot.item.thickness
    ]


def plan_of(session: Session, plan_id: int) -> CuttingPlan:
    """Raises NotFound."""
    return find(session, CuttingPlan, plan_id, "cutting plan")


def newest(session: Session, limit: int = 12) -> list[CuttingPlan]:
    """The latest plans."""
    return list(session.exec(select(CuttingPlan).order_by(col(CuttingPlan.id).desc()).limit(limit)))


def ask(session: Session, who: Who, asked: PlanAsked) -> CuttingPlan:
    """Record the request for a plan; the caller enqueues the job. Raises NotAllowed, Invalid, Refused."""
    who.must_work()
    find(session, Shop, 1, "shop", lock=True)
    if any(claims.under_way(one) for one in newest(session, 3)):
        raise Refused("A plan is already being calculated: wait for it, then start another.")
    if not asked.orders and not asked.ready:
        raise Invalid({"orders": "Choose what to cut for: open orders, halves to keep ready, or both."})
    chosen = [one for one in usable_boards(session) if one.item.id in set(asked.boards)]
    if not chosen:
        raise Invalid({"boards": "Choose at least one board."})
    wanted = [need for need in needs(session, asked.orders, asked.ready)[0] if need.short > 0]
    if not wanted:
        raise Refused("Nothing needs cutting: everything wanted is free on the shelf.")
    rules = workshop(session)
    document = {
        "boards": [_board(session, one, n) for one in chosen for n in range(min(one.count, 20))][:MOST_BOARDS],
        "wants": [
            {
                "wood": need.species.id,
                "length": need.size.length,
                "width": need.size.width,
                "thickness": need.size.thickness,
                "count": need.short,
                "weight": FOR_ORDERS if need.order else 1.0,
                "why": need.why,
            }
            for need in wanted
        ],
        "rules": {
            "kerf": rules.kerf,
            "resaw_kerf": rules.resaw_kerf,
            "ends": rules.board_ends,
            "edges": rules.board_edges,
            "shortest_rest": rules.shortest_rest,
        },
        "seconds": rules.plan_seconds,
    }
    made = CuttingPlan(asked=document, started_by=who.id, stage="Waiting in the queue")
    session.add(made)
    session.flush()
    return made


def _board(session: Session, one: Usable, copy: int) -> dict[str, Any]:
    assert one.item.id is not None
    flaws = [
        {"start": flaw.start, "end": flaw.end, "near": flaw.near_edge, "far": flaw.far_edge}
        for flaw in boards.marked_on(boards.flaws(session, one.item.id), copy + 1)
    ]
    return {
        "item": one.item.id,
        "copy": copy,
        "of": one.count,
        "name": one.item.name,
        "place": one.item.place,
        "wood": one.species.id,
        "length": one.item.length,
        "width": one.item.width,
        "thickness": one.item.thickness,
        "flaws": flaws,
    }


def calculate(database: Database, plan_id: int) -> None:
    """Carry a plan out, as a background job."""
    with database.read() as session:
        document = plan_of(session, plan_id).asked

    def progress(stage: str) -> None:
        claims.save(database, CuttingPlan, plan_id, stage=stage[:120])

    claims.save(database, CuttingPlan, plan_id, stage="", result=work_out(document, progress))


def work_out(document: dict[str, Any], progress: Any) -> dict[str, Any]:
    """Plan one wood after the other, since no piece of one can come from a board of another; they share the time."""
    rules = Rules(**document["rules"])
    woods = list(dict.fromkeys(want["wood"] for want in document["wants"]))
    parts = []
    for n, wood in enumerate(woods, start=1):
        wants = _merged([want for want in document["wants"] if want["wood"] == wood])
        had = [
            Board(key, one["length"], one["width"], one["thickness"], tuple(Flaw(**flaw) for flaw in one["flaws"]))
            for key, one in enumerate(document["boards"])
            if one["wood"] == wood
        ]

        def said(words: str, n: int = n) -> None:
            progress(f"Wood {n} of {len(woods)}: {words[0].lower()}{words[1:]}")

        asked = [Want(w["length"], w["width"], w["thickness"], w["count"], w["weight"]) for w in wants]
        parts.append(_as_json(wood, wants, plan(had, asked, rules, document["seconds"] / len(woods), said)))
    return {"woods": parts}


def _merged(wants: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Wants of the same size and weight merged, so that the program is smaller."""
    found: dict[tuple[float, ...], dict[str, Any]] = {}
    for want in wants:
        key = tuple(round(want[name], 3) for name in ("length", "width", "thickness", "weight"))
        if key in found:
            found[key]["count"] += want["count"]
            found[key]["why"] = f"{found[key]['why']}; {want['why']}"
        else:
            found[key] = dict(want)
    return list(found.values())


def _as_json(wood: int, wants: list[dict[str, Any]], made: Plan) -> dict[str, Any]:
    return {
        "wood": wood,
        "wants": [want | {"short": short} for want, short in zip(wants, made.short, strict=True)],
        "cuts": [
            {"board": cut.board.key, "sawn": cut.sawn, "strips": [asdict(strip) for strip in cut.strips]}
            for cut in made.cuts
        ],
        "sawn": made.sawn,
        "pieces": made.pieces,
        "bound": made.bound,
        "gap": made.gap,
        "fewest_short_proven": made.fewest_short_proven,
    }


def accept(session: Session, who: Who, plan_id: int) -> CuttingPlan:
    """Accept a plan to saw by; its boards are then recorded one by one.

    Raises NotAllowed, NotFound, Refused.
    """
    who.must_work()
    found = find(session, CuttingPlan, plan_id, "cutting plan", lock=True)
    if found.result is None:
        raise Refused("That plan is not finished calculating.")
    if found.accepted_at is not None:
        raise Refused("That plan was already accepted.")
    found.accepted_at, found.accepted_by = now(), who.id
    session.add(found)
    diary.write(session, who, "plan", plan_id, "Accepted: the boards will be sawn by it")
    session.flush()
    return found


def sawn_of(session: Session, plan_id: int) -> dict[int, Sawing]:
    """The boards of a plan that were sawn already, by their number within the plan."""
    rows = session.exec(select(Sawing).where(Sawing.plan_id == plan_id).order_by(col(Sawing.id)))
    return {row.plan_cut: row for row in rows if row.plan_cut is not None}


def pieces_of(found: CuttingPlan, number: int) -> tuple[dict[str, Any], dict[str, Any], list[dict[str, Any]]]:
    """A board of a plan by its number: the board, its cut, and its pieces counted by size. Raises Refused."""
    for part in (found.result or {}).get("woods", []):
        for cut in part["cuts"]:
            if cut["board"] == number:
                counts: dict[int, int] = {}
                for strip in cut["strips"]:
                    for block in strip["blocks"]:
                        counts[block["want"]] = counts.get(block["want"], 0) + block["pieces"]
                pieces = [part["wants"][want] | {"count": count} for want, count in sorted(counts.items())]
                return found.asked["boards"][number], cut, pieces
    raise Refused("That board is not cut by this plan.")
