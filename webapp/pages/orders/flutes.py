"""The flutes of an order: added, changed, left out."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from acoustics.notes.charts import SCALES
from acoustics.notes.music import TEMPERAMENTS
from webapp.models import Order
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.orders import changes as order_changes, flutes as ordered_flutes, rules as orders
from webapp.shop.orders.flutes import as_seen
from webapp.shop.orders.forms import ChangeFlute, FurtherFlutes, LeaveOut, Version
from webapp.shop.units.keys import SUGGESTED
from webapp.shop.wood import species as woods

router = APIRouter()


@router.get("/orders/{number}/flutes/new")
def ask_flutes(desk: View, number: int) -> Response:
    order = orders.order_of(desk.session, number)
    values = usual(desk) | {"count": "1", "version": str(order.version)}
    for last in orders.flutes_of(desk.session, order)[-1:]:
        alike = as_seen(last, desk.who)
        values |= {name: alike[name] for name in ("species_id", "reach")}
    return _flute_form(desk, number, None, Form(values))


@router.post("/orders/{number}/flutes/new")
def add_flutes(desk: Act, number: int) -> Response:
    def rule(form: Form) -> None:
        version = form.read(Version).version
        orders.add_flutes(desk.session, desk.who, number, form.read(FurtherFlutes, desk.who.units), version)

    return desk.submit(
        rule,
        again=lambda form, status: _flute_form(desk, number, None, form, status),
        to=f"/orders/{number}",
    )


@router.get("/orders/{number}/flutes/{flute_id}")
def ask_flute(desk: View, number: int, flute_id: int) -> Response:
    order = orders.order_of(desk.session, number)
    values = as_seen(ordered_flutes.flute_of(desk.session, order, flute_id), desk.who)
    return _flute_form(desk, number, flute_id, Form(values | {"version": str(order.version)}))


@router.post("/orders/{number}/flutes/{flute_id}")
def change_flute(desk: Act, number: int, flute_id: int) -> Response:
    return desk.submit(
        lambda form: ordered_flutes.change_flute(
            desk.session, desk.who, number, flute_id, form.read(ChangeFlute, desk.who.units)
        ),
        again=lambda form, status: _flute_form(desk, number, flute_id, form, status),
        to=f"/orders/{number}",
    )


@router.get("/orders/{number}/flutes/{flute_id}/leave-out")
def ask_leave_out(desk: View, number: int, flute_id: int) -> Response:
    order = orders.order_of(desk.session, number)
    return _leave_out(desk, number, flute_id, Form({"version": order.version}))


@router.post("/orders/{number}/flutes/{flute_id}/leave-out")
def leave_out(desk: Act, number: int, flute_id: int) -> Response:
    def rule(form: Form) -> None:
        asked = form.read(LeaveOut)
        ordered_flutes.leave_out(desk.session, desk.who, number, flute_id, asked.version, asked.why)

    return desk.submit(
        rule,
        again=lambda form, status: _leave_out(desk, number, flute_id, form, status),
        to=f"/orders/{number}",
    )


def leave_out_page(desk: Desk, order: Order, what: str, address: str, form: Form, status: int) -> Response:
    """Asks whether to leave out a line, and why where the order is confirmed."""
    return desk.render(
        "orders/leave_out.html",
        status=status,
        order=order,
        what=what,
        address=address,
        form=form,
        must_say_why=order.status in order_changes.AGREED,
    )


def choices(desk: Desk) -> dict[str, Any]:
    """What the fields of a flute offer."""
    known = woods.woods(desk.session)
    return {
        "keys": SUGGESTED,
        "scales": list(SCALES),
        "temperaments": [(name, name) for name in TEMPERAMENTS],
        "woods": [(wood.id, wood.name, woods.in_short(wood)) for wood in known],
    }


def usual(desk: Desk) -> dict[str, str]:
    """A flute before anything is typed: the shop's pitch standard, six holes, minor pentatonic."""
    return {"scale": "minor pentatonic", "holes": "6", "a4": f"{desk.shop.a4:g}", "temperament": "equal"}


def _leave_out(desk: Desk, number: int, flute_id: int, form: Form, status: int = 200) -> Response:
    order = orders.order_of(desk.session, number)
    what = f"Flute {ordered_flutes.flute_of(desk.session, order, flute_id).position}"
    return leave_out_page(desk, order, what, f"/orders/{number}/flutes/{flute_id}/leave-out", form, status)


def _flute_form(desk: Desk, number: int, flute_id: int | None, form: Form, status: int = 200) -> Response:
    order = orders.order_of(desk.session, number)
    offered = choices(desk)
    if "species_id" in form.theirs:
        names = {str(wood): name for wood, name, _ in offered["woods"]}
        now_says, yours = (names.get(text, text) for text in form.theirs["species_id"])
        form.theirs = {**form.theirs, "species_id": (now_says, yours)}
    return desk.render(
        "orders/flute.html",
        status=status,
        order=order,
        flute=None if flute_id is None else ordered_flutes.flute_of(desk.session, order, flute_id),
        form=form,
        must_say_why=order.status in order_changes.AGREED,
        **offered,
    )
