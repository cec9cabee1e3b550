"""Orders: the list, taking one on one page, one order and what is done with it."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from acoustics.charts import SCALES
from acoustics.music import TEMPERAMENTS
from webapp.models import Order, OrderStatus
from webapp.pages.desk import Act, Desk, View
from webapp.pages.forms import Form
from webapp.shop import customers, diary, order_list, ordered_flutes, orders, woods
from webapp.shop.errors import Invalid, Refused, Stale
from webapp.shop.finding import as_id
from webapp.shop.keys import SUGGESTED, show_note
from webapp.shop.lengths import show_length
from webapp.shop.order_forms import ChangeFlute, ChangeOrder, MoreFlutes, TakeOrder, Version, Withdraw

router = APIRouter()

FILTERS = [
    ("open", "Open"),
    ("due", "Due"),
    ("ready", "Ready"),
    ("enquiry", "Enquiries"),
    ("quoted", "Quoted"),
    ("confirmed", "Confirmed"),
    ("in the shop", "In the shop"),
    ("handed over", "Handed over"),
    ("withdrawn", "Withdrawn"),
    ("all", "All"),
]
LAST_PAGE = 1_000_000
STATUSES = [
    (OrderStatus.ENQUIRY.value, "Enquiry", "nothing promised"),
    (OrderStatus.QUOTED.value, "Quoted", "a price was named"),
    (OrderStatus.CONFIRMED.value, "Confirmed", "price and date agreed"),
]


@router.get("/orders")
def show_list(desk: View) -> Response:
    params = desk.request.query_params
    show = next((name for name, _ in FILTERS if name == params.get("show")), "open")
    page = min(as_id(params.get("page", "1")) or 1, LAST_PAGE)
    today = orders.today(desk.session)
    rows, more = order_list.listed(desk.session, show, today, page)
    return desk.render(
        "orders/list.html", rows=rows, more=more, page=page, show=show, filters=FILTERS, today=today, as_note=show_note
    )


@router.get("/orders/new")
def ask_order(desk: View) -> Response:
    desk.who.must_work()
    form = Form(_usual(desk) | {"status": "enquiry", "count": "1"})
    if number := desk.request.query_params.get("customer", ""):
        known = customers.customer(desk.session, as_id(number) or 0)
        form.values |= {"customer_id": str(known.id), "customer_name": known.name}
    return _order_form(desk, form)


@router.post("/orders/new")
def take(desk: Act) -> Response:
    desk.who.must_work()
    form = desk.form()
    try:
        order = orders.take_order(desk.session, desk.who, form.read(TakeOrder, desk.who.units))
    except Invalid as error:
        return _order_form(desk, form.failed(error), 422)
    return desk.go(f"/orders/{order.number}")


@router.get("/orders/customers-like")
def customers_like(desk: View) -> Response:
    """The customers known by what was typed so far; a part of the page on which an order is taken."""
    typed = desk.request.query_params.get("customer_name", "")[:120]
    chosen = desk.request.query_params.get("customer_id", "")
    known = customers.like(desk.session, typed, 8) if typed else None
    # Someone chosen before whose name is no longer what is typed is not silently kept.
    kept = chosen if chosen in ("new", *(str(one.customer.id) for one in known or [])) else ""
    form = Form({"customer_name": typed, "customer_id": kept})
    return desk.render("orders/take.html", "known", form=form, known=known)


@router.get("/orders/{number}")
def show_order(desk: View, number: int) -> Response:
    return _order(desk, orders.order_of(desk.session, number))


@router.get("/orders/{number}/edit")
def ask_change(desk: View, number: int) -> Response:
    desk.who.must_work()
    order = orders.order_of(desk.session, number)
    values = {"due_on": order.due_on.isoformat() if order.due_on else "", "note": order.note, "version": order.version}
    return desk.render("orders/edit.html", order=order, form=Form(values), theirs=None)


@router.post("/orders/{number}/edit")
def change(desk: Act, number: int) -> Response:
    desk.who.must_work()
    order = orders.order_of(desk.session, number)
    form = desk.form()
    try:
        orders.change_order(desk.session, desk.who, number, form.read(ChangeOrder))
    except Invalid as error:
        return desk.render("orders/edit.html", status=422, order=order, form=form.failed(error), theirs=None)
    except Stale as error:
        form.values["version"] = order.version
        return desk.render("orders/edit.html", status=409, order=order, form=form, theirs=error.theirs)
    except Refused as error:
        return desk.render("orders/edit.html", status=409, order=order, form=_refused(form, error), theirs=None)
    return desk.go(f"/orders/{number}")


@router.get("/orders/{number}/flutes/new")
def ask_flutes(desk: View, number: int) -> Response:
    desk.who.must_work()
    order = orders.order_of(desk.session, number)
    last = orders.flutes_of(desk.session, order)[-1:]
    values = _usual(desk) | ({"species_id": last[0].species_id, "reach": _length(desk, last[0].reach)} if last else {})
    return _flute_form(desk, order, None, Form(values | {"count": "1", "version": order.version}))


@router.post("/orders/{number}/flutes/new")
def add_flutes(desk: Act, number: int) -> Response:
    desk.who.must_work()
    order = orders.order_of(desk.session, number)
    form = desk.form()
    try:
        version = form.read(Version).version
        orders.add_flutes(desk.session, desk.who, number, form.read(MoreFlutes, desk.who.units), version)
    except Invalid as error:
        return _flute_form(desk, order, None, form.failed(error), 422)
    except Stale:
        return _flute_form(desk, order, None, _stale(form, order), 409)
    except Refused as error:
        return _flute_form(desk, order, None, _refused(form, error), 409)
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
        return _flute_form(desk, order, flute_id, _stale(form, order), 409, theirs)
    except Refused as error:
        return _flute_form(desk, order, flute_id, _refused(form, error), 409)
    return desk.go(f"/orders/{number}")


@router.post("/orders/{number}/flutes/{flute_id}/leave-out")
def leave_out(desk: Act, number: int, flute_id: int) -> Response:
    desk.who.must_work()
    order, form = orders.order_of(desk.session, number), desk.form()
    try:
        ordered_flutes.leave_out(desk.session, desk.who, number, flute_id, form.read(Version).version)
    except (Refused, Stale, Invalid) as error:
        return _order(desk, order, 409, refused=str(error))
    return desk.go(f"/orders/{number}")


@router.post("/orders/{number}/{move}")
def move_on(desk: Act, number: int, move: str) -> Response:
    """Quote, confirm, withdraw, hand over."""
    desk.who.must_work()
    order, form = orders.order_of(desk.session, number), desk.form()
    try:
        if move == "withdraw":
            orders.withdraw(desk.session, desk.who, number, form.read(Withdraw))
        else:
            moves = {"quote": orders.quote, "confirm": orders.confirm, "hand-over": orders.hand_over}
            if move not in moves:
                return _order(desk, order, 404, refused="There is no such thing to do with an order.")
            moves[move](desk.session, desk.who, number, form.read(Version).version)
    except Invalid as error:
        return _order(desk, order, 422, form=form.failed(error))
    except (Refused, Stale) as error:
        return _order(desk, order, 409, refused=str(error), form=form)
    return desk.go(f"/orders/{number}")


def _order(
    desk: Desk, order: Order, status: int = 200, refused: str | None = None, form: Form | None = None
) -> Response:
    rows = order_list.flute_rows(desk.session, order)
    today = orders.today(desk.session)
    return desk.render(
        "orders/order.html",
        status=status,
        order=order,
        customer=customers.customer(desk.session, order.customer_id),
        rows=rows,
        total=sum((row.flute.price for row in rows), 0),
        next_step=order_list.next_step(order, rows),
        late=order.due_on is not None and order.due_on < today and order.status in orders.PROMISED,
        may_change=order.status in orders.OPEN and desk.who.role != "viewer",
        promised=order.status in orders.PROMISED,
        cautions={row.species.name: woods.cautions(row.species) for row in rows if row.species.restricted},
        entries=diary.read(desk.session, "order", order.id),
        refused=refused,
        form=form or Form(),
        as_note=show_note,
    )


def _order_form(desk: Desk, form: Form, status: int = 200) -> Response:
    return desk.render(
        "orders/take.html", status=status, form=form, known=_known(desk, form), statuses=STATUSES, **_choices(desk)
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
        "orders/flute.html", status=status, order=order, flute=flute, form=form, theirs=theirs, **_choices(desk)
    )


def _choices(desk: Desk) -> dict[str, Any]:
    """What the fields of a flute offer."""
    known = woods.woods(desk.session)
    return {
        "keys": SUGGESTED,
        "scales": list(SCALES),
        "temperaments": [(name, name) for name in TEMPERAMENTS],
        "woods": [(wood.id, wood.name, woods.in_short(wood)) for wood in known],
        "wood_names": {wood.id: wood.name for wood in known},
    }


def _usual(desk: Desk) -> dict[str, Any]:
    """A flute before anything is typed: the shop's pitch standard, six holes, minor pentatonic."""
    return {"scale": "minor pentatonic", "holes": "6", "a4": f"{desk.shop.a4:g}", "temperament": "equal"}


def _flute_values(desk: Desk, order: Order, flute_id: int) -> dict[str, Any]:
    flute = ordered_flutes.flute_of(desk.session, order, flute_id)
    values = flute.model_dump(include={"key", "scale", "holes", "temperament", "species_id", "extras"})
    price = f"{flute.price}" if flute.price else ""
    return values | {"a4": f"{flute.a4:.10g}", "reach": _length(desk, flute.reach), "price": price}


def _length(desk: Desk, value: float | None) -> str:
    return "" if value is None else show_length(value, desk.who.units, exact=True)


def _known(desk: Desk, form: Form) -> list[customers.Known] | None:
    """Customers like the typed name; the one already chosen always among them. None before anything is typed."""
    typed, chosen = str(form.values.get("customer_name", "")), str(form.values.get("customer_id", ""))
    found = customers.like(desk.session, typed, 8) if typed else []
    customer_id = as_id(chosen)
    if customer_id and all(one.customer.id != customer_id for one in found):
        found = [*customers.by_id(desk.session, customer_id), *found]
    return found if typed or found else None


def _refused(form: Form, error: Refused) -> Form:
    return form.failed(Invalid({"": str(error)}))


def _stale(form: Form, order: Order) -> Form:
    """What was typed, ready to be sent again on top of what the other person saved."""
    form.values["version"] = order.version
    return form.failed(Invalid({"": "Someone else changed this order while you were typing. Nothing was saved yet."}))
