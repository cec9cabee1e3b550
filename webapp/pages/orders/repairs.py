"""Repairs, retuning and checks as lines of orders: taken, begun, written up."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Blank, Order, Repair, RepairKind
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.orders import orders as order_page
from webapp.pages.orders.flutes import leave_out_page, refused, stale
from webapp.pages.orders.taking import STATUSES, customer_asked, known
from webapp.shop.base.errors import Invalid, Refused, Stale
from webapp.shop.orders import changes as order_changes, rules as orders
from webapp.shop.orders.forms import LeaveOut, Version
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
    desk.who.must_work()
    serial = desk.request.query_params.get("serial", "")[:20]
    values: dict[str, Any] = {"status": "enquiry", "kind": "repair", "whose": "ours", "serial": serial}
    return _take(desk, Form(values | _player(desk, serial) | customer_asked(desk)))


@router.post("/orders/repair")
def take(desk: Act) -> Response:
    desk.who.must_work()
    form = desk.form()
    try:
        order = repairs.take(desk.session, desk.who, form.read(TakeRepair))
    except Invalid as error:
        return _take(desk, form.failed(error), 422)
    return desk.go(f"/orders/{order.number}")


@router.get("/orders/{number}/repairs/new")
def ask_further(desk: View, number: int) -> Response:
    desk.who.must_work()
    order = orders.order_of(desk.session, number)
    return _further(desk, order, Form({"kind": "repair", "whose": "ours", "version": order.version}))


@router.post("/orders/{number}/repairs/new")
def add(desk: Act, number: int) -> Response:
    desk.who.must_work()
    order, form = orders.order_of(desk.session, number), desk.form()
    try:
        repairs.add(desk.session, desk.who, number, form.read(FurtherRepair))
    except Invalid as error:
        return _further(desk, order, form.failed(error), 422)
    except Stale:
        return _further(desk, order, stale(form, order), 409)
    except Refused as error:
        return _further(desk, order, refused(form, error), 409)
    return desk.go(f"/orders/{number}")


@router.get("/orders/{number}/repairs/{repair_id}")
def ask_change(desk: View, number: int, repair_id: int) -> Response:
    desk.who.must_work()
    order = orders.order_of(desk.session, number)
    repair = repairs.repair_of(desk.session, order, repair_id)
    return _change(desk, order, repair, Form({"asked": repair.asked, "price": repair.price, "version": order.version}))


@router.post("/orders/{number}/repairs/{repair_id}")
def change(desk: Act, number: int, repair_id: int) -> Response:
    desk.who.must_work()
    order, form = orders.order_of(desk.session, number), desk.form()
    repair = repairs.repair_of(desk.session, order, repair_id)
    try:
        repairs.change(desk.session, desk.who, number, repair_id, form.read(ChangeRepair))
    except Invalid as error:
        return _change(desk, order, repair, form.failed(error), 422)
    except Stale:
        return _change(desk, order, repair, stale(form, order), 409)
    except Refused as error:
        return _change(desk, order, repair, refused(form, error), 409)
    return desk.go(f"/orders/{number}#repair-{repair_id}")


@router.get("/orders/{number}/repairs/{repair_id}/leave-out")
def ask_leave_out(desk: View, number: int, repair_id: int) -> Response:
    desk.who.must_work()
    order = orders.order_of(desk.session, number)
    return _leave_out(desk, order, repair_id, Form({"version": order.version}), 200)


@router.post("/orders/{number}/repairs/{repair_id}/leave-out")
def leave_out(desk: Act, number: int, repair_id: int) -> Response:
    desk.who.must_work()
    order, form = orders.order_of(desk.session, number), desk.form()
    try:
        asked = form.read(LeaveOut)
        repairs.leave_out(desk.session, desk.who, number, repair_id, asked.version, asked.why)
    except Invalid as error:
        return _leave_out(desk, order, repair_id, form.failed(error), 422)
    except Stale:
        return _leave_out(desk, order, repair_id, stale(form, order), 409)
    except Refused as error:
        return _leave_out(desk, order, repair_id, refused(form, error), 409)
    return desk.go(f"/orders/{number}")


@router.post("/orders/{number}/repairs/{repair_id}/begin")
def begin(desk: Act, number: int, repair_id: int) -> Response:
    desk.who.must_work()
    try:
        repairs.begin(desk.session, desk.who, number, repair_id, desk.form().read(Version).version)
    except (Refused, Stale, Invalid) as error:
        return _order(desk, number, error)
    return desk.go(f"/orders/{number}#repair-{repair_id}")


@router.post("/orders/{number}/repairs/{repair_id}/found")
def write_found(desk: Act, number: int, repair_id: int) -> Response:
    desk.who.must_work()
    try:
        repairs.write_found(desk.session, desk.who, number, repair_id, desk.form().read(Found))
    except (Refused, Stale, Invalid) as error:
        return _order(desk, number, error)
    return desk.go(f"/orders/{number}#repair-{repair_id}")


def _order(desk: Desk, number: int, error: Refused | Stale | Invalid) -> Response:
    desk.session.rollback()
    order = orders.order_of(desk.session, number)
    text = "Write what was found and done." if isinstance(error, Invalid) else str(error)
    return order_page.page(desk, order, 422 if isinstance(error, Invalid) else 409, refused=text)


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
        statuses=STATUSES,
        repair_kinds=KINDS,
        whose=WHOSE,
    )


def _further(desk: Desk, order: Order, form: Form, status: int = 200) -> Response:
    return desk.render(
        "orders/repair.html",
        status=status,
        order=order,
        repair=None,
        blank=None,
        form=form,
        repair_kinds=KINDS,
        whose=WHOSE,
        must_say_why=order.status in order_changes.AGREED,
    )


def _change(desk: Desk, order: Order, repair: Repair, form: Form, status: int = 200) -> Response:
    return desk.render(
        "orders/repair.html",
        status=status,
        order=order,
        repair=repair,
        blank=desk.session.get(Blank, repair.blank_id) if repair.blank_id else None,
        form=form,
        repair_kinds=KINDS,
        whose=WHOSE,
        must_say_why=order.status in order_changes.AGREED,
    )


def _leave_out(desk: Desk, order: Order, repair_id: int, form: Form, status: int) -> Response:
    repair = repairs.repair_of(desk.session, order, repair_id)
    what = f"{str(repair.kind).capitalize()} {repair.position}"
    return leave_out_page(desk, order, what, f"/orders/{order.number}/repairs/{repair_id}/leave-out", form, status)
