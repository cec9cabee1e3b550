"""The flutes of an order: added, changed, left out."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from acoustics.notes.charts import SCALES
from acoustics.notes.music import TEMPERAMENTS
from webapp.models import Order
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid, Refused, Stale
from webapp.shop.orders import changes as order_changes, flutes as ordered_flutes, rules as orders
from webapp.shop.orders.forms import ChangeFlute, FurtherFlutes, LeaveOut, Version
from webapp.shop.units.keys import SUGGESTED
from webapp.shop.units.lengths import show_length
from webapp.shop.wood import species as woods

router = APIRouter()


@router.get("/orders/{number}/flutes/new")
def ask_flutes(desk: View, number: int) -> Response:
    desk.who.must_work()
    order = orders.order_of(desk.session, number)
    last = orders.flutes_of(desk.session, order)[-1:]
    values = usual(desk) | ({"species_id": last[0].species_id, "reach": _length(desk, last[0].reach)} if last else {})
    return _flute_form(desk, order, None, Form(values | {"count": "1", "version": order.version}))


@router.post("/orders/{number}/flutes/new")
def add_flutes(desk: Act, number: int) -> Response:
    desk.who.must_work()
    order = orders.order_of(desk.session, number)
    form = desk.form()
    try:
        version = form.read(Version).version
        orders.add_flutes(desk.session, desk.who, number, form.read(FurtherFlutes, desk.who.units), version)
    except Invalid as error:
        return _flute_form(desk, order, None, form.failed(error), 422)
    except Stale:
        return _flute_form(desk, order, None, stale(form, order), 409)
    except Refused as error:
        return _flute_form(desk, order, None, refused(form, error), 409)
    return desk.go(f"/orders/{number}")


@router.get("/orders/{number}/flutes/{flute_id}")
def ask_flute(desk: View, number: int, flute_id: int) -> Response:
    desk.who.must_work()
    order = orders.order_of(desk.session, number)
    values = _flute_values(desk, order, flute_id)
    return _flute_form(desk, order, flute_id, Form(values | {"version": order.version}))


@router.post("/orders/{number}/flutes/{flute_id}")
def change_flute(desk: Act, number: int, flute_id: int) -> Response:
    desk.who.must_work()
    order = orders.order_of(desk.session, number)
    form = desk.form()
    try:
        asked = form.read(ChangeFlute, desk.who.units)
        ordered_flutes.change_flute(desk.session, desk.who, number, flute_id, asked)
    except Invalid as error:
        return _flute_form(desk, order, flute_id, form.failed(error), 422)
    except Stale:
        theirs = _flute_values(desk, order, flute_id)
        return _flute_form(desk, order, flute_id, stale(form, order), 409, theirs)
    except Refused as error:
        return _flute_form(desk, order, flute_id, refused(form, error), 409)
    return desk.go(f"/orders/{number}")


@router.get("/orders/{number}/flutes/{flute_id}/leave-out")
def ask_leave_out(desk: View, number: int, flute_id: int) -> Response:
    desk.who.must_work()
    order = orders.order_of(desk.session, number)
    return _leave_out(desk, order, flute_id, Form({"version": order.version}))


@router.post("/orders/{number}/flutes/{flute_id}/leave-out")
def leave_out(desk: Act, number: int, flute_id: int) -> Response:
    desk.who.must_work()
    order, form = orders.order_of(desk.session, number), desk.form()
    try:
        asked = form.read(LeaveOut)
        ordered_flutes.leave_out(desk.session, desk.who, number, flute_id, asked.version, asked.why)
    except Invalid as error:
        return _leave_out(desk, order, flute_id, form.failed(error), 422)
    except Stale:
        return _leave_out(desk, order, flute_id, stale(form, order), 409)
    except Refused as error:
        return _leave_out(desk, order, flute_id, refused(form, error), 409)
    return desk.go(f"/orders/{number}")


def _leave_out(desk: Desk, order: Order, flute_id: int, form: Form, status: int = 200) -> Response:
    flute = ordered_flutes.flute_of(desk.session, order, flute_id)
    what = f"Flute {flute.position}"
    return leave_out_page(desk, order, what, f"/orders/{order.number}/flutes/{flute_id}/leave-out", form, status)


def leave_out_page(desk: Desk, order: Order, what: str, address: str, form: Form, status: int) -> Response:
    """Asks whether a line shall go, and why where the order is confirmed."""
    return desk.render(
        "orders/leave_out.html",
        status=status,
        order=order,
        what=what,
        address=address,
        form=form,
        must_say_why=order.status in order_changes.AGREED,
    )


def _flute_form(
    desk: Desk,
    order: Order,
    flute_id: int | None,
    form: Form,
    status: int = 200,
    theirs: dict[str, Any] | None = None,
) -> Response:
    flute = ordered_flutes.flute_of(desk.session, order, flute_id) if flute_id is not None else None
    return desk.render(
        "orders/flute.html",
        status=status,
        order=order,
        flute=flute,
        form=form,
        theirs=theirs,
        must_say_why=order.status in order_changes.AGREED,
        **choices(desk),
    )


def choices(desk: Desk) -> dict[str, Any]:
    """What the fields of a flute offer."""
    known = woods.woods(desk.session)
    return {
        "keys": SUGGESTED,
        "scales": list(SCALES),
        "temperaments": [(name, name) for name in TEMPERAMENTS],
        "woods": [(wood.id, wood.name, woods.in_short(wood)) for wood in known],
        "wood_names": {wood.id: wood.name for wood in known},
    }


def usual(desk: Desk) -> dict[str, Any]:
    """A flute before anything is typed: the shop's pitch standard, six holes, minor pentatonic."""
    return {"scale": "minor pentatonic", "holes": "6", "a4": f"{desk.shop.a4:g}", "temperament": "equal"}


def _flute_values(desk: Desk, order: Order, flute_id: int) -> dict[str, Any]:
    flute = ordered_flutes.flute_of(desk.session, order, flute_id)
    values = flute.model_dump(include={"key", "scale", "holes", "temperament", "species_id", "extras"})
    price = f"{flute.price}" if flute.price else ""
    return values | {"a4": f"{flute.a4:.10g}", "reach": _length(desk, flute.reach), "price": price}


def _length(desk: Desk, value: float | None) -> str:
    return "" if value is None else show_length(value, desk.who.units, exact=True)


def refused(form: Form, error: Refused) -> Form:
    return form.failed(Invalid({"": str(error)}))


def stale(form: Form, order: Order) -> Form:
    """What was typed, ready to be sent again on top of what the other person saved."""
    form.values["version"] = order.version
    return form.failed(Invalid({"": "Someone else changed this order while you were typing. Nothing was saved yet."}))
