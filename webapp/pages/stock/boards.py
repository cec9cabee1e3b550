"""One board: its moisture, its flaws, and how it was sawn."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Sawing, StockItem, StockKind
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.stock.stock import board_drawing, lot_page
from webapp.shop.base.errors import Invalid, ShopError
from webapp.shop.base.finding import as_id
from webapp.shop.stock import lists as stock_list, rules as stock
from webapp.shop.stock.lists import Lot
from webapp.shop.units.rough import rough_length
from webapp.shop.wood import boards, sawing
from webapp.shop.wood.boards import FlawAsked, ReadMoisture
from webapp.shop.wood.plans import rules as cutting_plans
from webapp.shop.wood.sawing import MOST_KINDS, Pieces, Saw

router = APIRouter()

KINDS = [(StockKind.HALVES.value, "halves"), (StockKind.BLOCK_BLANK.value, "block blanks")]


@router.post("/stock/{item_id}/moisture")
def read_moisture(desk: Act, item_id: int) -> Response:
    return desk.submit(
        lambda form: boards.read_moisture(desk.session, desk.who, item_id, form.read(ReadMoisture)),
        again=lambda form, status: lot_page(desk, stock.item_of(desk.session, item_id), status, moisture=form),
        to=f"/stock/{item_id}",
    )


@router.post("/stock/{item_id}/flaws")
def add_flaw(desk: Act, item_id: int) -> Response:
    return desk.submit(
        lambda form: boards.add_flaw(desk.session, desk.who, item_id, form.read(FlawAsked, desk.who.units)),
        again=lambda form, status: lot_page(desk, stock.item_of(desk.session, item_id), status, flaw=form),
        to=f"/stock/{item_id}#flaws",
    )


@router.post("/stock/{item_id}/flaws/{flaw_id}/gone")
def remove_flaw(desk: Act, item_id: int, flaw_id: int) -> Response:
    return desk.submit(
        lambda form: boards.remove_flaw(desk.session, desk.who, item_id, flaw_id),
        again=lambda form, status: lot_page(desk, stock.item_of(desk.session, item_id), status, flaw=form),
        to=f"/stock/{item_id}#flaws",
    )


@router.get("/stock/{item_id}/saw")
def ask_sawing(desk: View, item_id: int) -> Response:
    board = boards.board_of(desk.session, item_id)
    of_plan = _of_plan(desk.request.query_params.get("plan"), desk.request.query_params.get("cut"))
    return _page(desk, board, Form(_proposed(desk, board, of_plan)))


@router.post("/stock/{item_id}/saw")
def record_sawing(desk: Act, item_id: int) -> Response:
    def rule(form: Form) -> Sawing:
        asked = form.read(Saw, desk.who.units)
        of_plan = _of_plan(form.values.get("plan"), form.values.get("cut"))
        return sawing.saw(desk.session, desk.who, item_id, asked, _pieces(desk, form), of_plan)

    return desk.submit(
        rule,
        again=lambda form, status: _page(desk, boards.board_of(desk.session, item_id), form, status),
        to=lambda made: f"/stock/plans/{made.plan_id}" if made.plan_id else f"/stock/{made.board_id}#sawn",
    )


def _of_plan(plan: object, cut: object) -> tuple[int, int] | None:
    """A plan and a board of it, as the address or the form names them."""
    plan_id, number = as_id(plan), str(cut)
    if plan_id is None or not (number.isascii() and number.isdigit() and len(number) < 5):
        return None
    return plan_id, int(number)


def _pieces(desk: Desk, form: Form) -> list[Pieces]:
    """The lines of the form that are filled in. Raises Invalid with the line's number at each field."""
    found: list[Pieces] = []
    wrong: dict[str, str] = {}
    for n in range(1, MOST_KINDS + 1):
        line = {name: form.values.get(f"{name}_{n}", "") for name in ("kind", "count", "length", "width", "thickness")}
        if not any(value for name, value in line.items() if name != "kind"):
            continue
        try:
            found.append(Form(line).read(Pieces, desk.who.units))
        except Invalid as error:
            wrong |= {f"{name}_{n}": words for name, words in error.errors.items()}
    if wrong:
        raise Invalid(wrong)
    return found


def _proposed(desk: Desk, board: StockItem, of_plan: tuple[int, int] | None) -> dict[str, Any]:
    """The form filled from a plan, or empty but for the kind and place of the pieces."""
    values: dict[str, Any] = {f"kind_{n}": StockKind.HALVES.value for n in range(1, MOST_KINDS + 1)}
    values["place"] = board.place
    if of_plan is None:
        return values
    try:
        plan = cutting_plans.plan_of(desk.session, of_plan[0])
        planned, cut, pieces = cutting_plans.pieces_of(plan, of_plan[1])
    except ShopError:
        return values
    values |= {"plan": str(of_plan[0]), "cut": str(of_plan[1])}
    rest = planned["length"] - cut["sawn"]
    values["length_after"] = _typed(desk, rest) if rest > 0 else ""
    for n, piece in enumerate(pieces[:MOST_KINDS], start=1):
        values[f"count_{n}"] = str(piece["count"])
        values |= {f"{name}_{n}": _typed(desk, piece[name]) for name in ("length", "width", "thickness")}
    return values


def _typed(desk: Desk, mm: float) -> str:
    return rough_length(mm, desk.who.units)


def _page(desk: Desk, board: StockItem, form: Form, status: int = 200) -> Response:
    lot: Lot = stock_list.lot(desk.session, board)
    labels = {"length_after": "Length that is left"}
    for n in range(1, MOST_KINDS + 1):
        labels |= {
            f"{name}_{n}": f"{name.capitalize()}, line {n}" for name in ("count", "length", "width", "thickness")
        }
    return desk.render(
        "stock/saw.html",
        status=status,
        board=board,
        lot=lot,
        picture=board_drawing(desk, lot),
        form=form,
        kinds=KINDS,
        lines=range(1, MOST_KINDS + 1),
        labels=labels,
        rough=lambda mm: "" if mm is None else rough_length(mm, desk.who.units),
        amount=stock_list.show_quantity,
    )
