"""Repairs, retuning and checks as lines of orders: taken, begun, written up."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Blank, RepairKind
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.orders import orders as order_page
from webapp.pages.orders.flutes import leave_out_page
from webapp.pages.orders.taking import customer_asked, known, statuses
from webapp.shop.orders import changes as order_changes, rules as orders
from webapp.shop.orders.forms import LeaveOut, Version
from webapp.shop.people import amounts
from webapp.shop.production import repairs
from webapp.shop.production.repairs import ChangeRepair, Found, FurtherRepair, TakeRepair

router = APIRouter()

KINDS = [
    (RepairKind.REPAIR.value, "Repair", "a crack, a joint, an edge, a block"),
    (RepairKind.RETUNING.value, "Retuning", "notes that are off"),
    (RepairKind.CHECK.value, "Check over", "looked over, played and read"),
]
WHOSE = [("ours", "Made here", "by its serial"), ("other", "Made elsewhere", "by a description")]


@router.get("/orders/repair")
def ask_repair(desk: View) -> Response:
    serial = desk.request.query_params.get("serial", "")[:20]
    values: dict[str, Any] = {"status": "enquiry", "kind": "repair", "whose": "ours", "serial": serial}
    return _take(desk, Form(values | _player(desk, serial) | customer_asked(desk)))


@router.post("/orders/repair")
def take(desk: Act) -> Response:
    return desk.submit(
        lambda form: repairs.take(desk.session, desk.who, form.read(TakeRepair)),
        again=lambda form, status: _take(desk, form, status),
        to=lambda order: f"/orders/{order.number}",
    )


@router.get("/orders/{number}/repairs/new")
def ask_further(desk: View, number: int) -> Response:
    order = orders.order_of(desk.session, number)
    return _page(desk, number, None, Form({"kind": "repair", "whose": "ours", "version": order.version}))


@router.post("/orders/{number}/repairs/new")
def add(desk: Act, number: int) -> Response:
    return desk.submit(
        lambda form: repairs.add(desk.session, desk.who, number, form.read(FurtherRepair)),
        again=lambda form, status: _page(desk, number, None, form, status),
        to=f"/orders/{number}",
    )


@router.get("/orders/{number}/repairs/{repair_id}")
def ask_change(desk: View, number: int, repair_id: int) -> Response:
    order = orders.order_of(desk.session, number)
    repair = repairs.repair_of(desk.session, order, repair_id)
    values = amounts.visible(desk.who.role, "repair", {"asked": repair.asked, "price": repair.price})
    return _page(desk, number, repair_id, Form(values | {"version": order.version}))


@router.post("/orders/{number}/repairs/{repair_id}")
def change(desk: Act, number: int, repair_id: int) -> Response:
    return desk.submit(
        lambda form: repairs.change(desk.session, desk.who, number, repair_id, form.read(ChangeRepair)),
        again=lambda form, status: _page(desk, number, repair_id, form, status),
        to=f"/orders/{number}#repair-{repair_id}",
    )


@router.get("/orders/{number}/repairs/{repair_id}/leave-out")
def ask_leave_out(desk: View, number: int, repair_id: int) -> Response:
    order = orders.order_of(desk.session, number)
    return _leave_out(desk, number, repair_id, Form({"version": order.version}))


@router.post("/orders/{number}/repairs/{repair_id}/leave-out")
def leave_out(desk: Act, number: int, repair_id: int) -> Response:
    def rule(form: Form) -> None:
        asked = form.read(LeaveOut)
        repairs.leave_out(desk.session, desk.who, number, repair_id, asked.version, asked.why)

    return desk.submit(
        rule,
        again=lambda form, status: _leave_out(desk, number, repair_id, form, status),
        to=f"/orders/{number}",
    )


@router.post("/orders/{number}/repairs/{repair_id}/begin")
def begin(desk: Act, number: int, repair_id: int) -> Response:
    return desk.submit(
        lambda form: repairs.begin(desk.session, desk.who, number, repair_id, form.read(Version).version),
        again=lambda form, status: order_page.page(desk, number, status, refused=order_page.why_not(form)),
        to=f"/orders/{number}#repair-{repair_id}",
    )


@router.post("/orders/{number}/repairs/{repair_id}/found")
def write_found(desk: Act, number: int, repair_id: int) -> Response:
    return desk.submit(
        lambda form: repairs.write_found(desk.session, desk.who, number, repair_id, form.read(Found)),
        again=lambda form, status: order_page.page(desk, number, status, found=(repair_id, form)),
        to=f"/orders/{number}#repair-{repair_id}",
    )


def _player(desk: Desk, serial: str) -> dict[str, Any]:
    """Whoever has the flute of this serial, as far as the shop knows."""
    owner = repairs.player_of(desk.session, serial) if serial else None
    return {"customer_id": str(owner.id), "customer_name": owner.name} if owner else {}


def _take(desk: Desk, form: Form, status: int = 200) -> Response:
    return desk.render(
        "orders/take_repair.html",
        status=status,
        form=form,
        known=known(desk, form),
        statuses=statuses(desk),
        repair_kinds=KINDS,
        whose=WHOSE,
    )


def _page(desk: Desk, number: int, repair_id: int | None, form: Form, status: int = 200) -> Response:
    order = orders.order_of(desk.session, number)
    repair = None if repair_id is None else repairs.repair_of(desk.session, order, repair_id)
    return desk.render(
        "orders/repair.html",
        status=status,
        order=order,
        repair=repair,
        blank=desk.session.get(Blank, repair.blank_id) if repair and repair.blank_id else None,
        form=form,
        repair_kinds=KINDS,
        whose=WHOSE,
        must_say_why=order.status in order_changes.AGREED,
    )


def _leave_out(desk: Desk, number: int, repair_id: int, form: Form, status: int = 200) -> Response:
    order = orders.order_of(desk.session, number)
    repair = repairs.repair_of(desk.session, order, repair_id)
    what = f"{str(repair.kind).capitalize()} {repair.position}"
    return leave_out_page(desk, order, what, f"/orders/{number}/repairs/{repair_id}/leave-out", form, status)
