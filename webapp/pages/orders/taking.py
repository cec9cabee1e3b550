"""Taking an order: on one page, its customer found as one types."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Order, OrderStatus
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.orders.flutes import choices, usual
from webapp.shop.base.finding import as_id
from webapp.shop.contacts import enquiries
from webapp.shop.contacts.enquiries import NoteEnquiry
from webapp.shop.orders import customers, rules as orders
from webapp.shop.orders.forms import TakeOrder
from webapp.shop.people import amounts

router = APIRouter()

STATUSES = [
    (OrderStatus.ENQUIRY.value, "Enquiry", "nothing promised; key and wood may stay open"),
    (OrderStatus.QUOTED.value, "Quoted", "a price was named"),
    (OrderStatus.CONFIRMED.value, "Confirmed", "price and date agreed"),
]


@router.get("/orders/new")
def ask_order(desk: View) -> Response:
    return _form(desk, Form(usual(desk) | {"status": "enquiry", "count": "1"} | customer_asked(desk)))


@router.post("/orders/new")
def take(desk: Act) -> Response:
    def rule(form: Form) -> Order:
        open_still = any(form.values.get(name, "") == "" for name in ("key", "species_id"))
        if open_still and form.values.get("status") == OrderStatus.ENQUIRY:
            return enquiries.note(desk.session, desk.who, form.read(NoteEnquiry, desk.who.units))
        return orders.take_order(desk.session, desk.who, form.read(TakeOrder, desk.who.units))

    return desk.submit(
        rule,
        again=lambda form, status: _form(desk, form, status),
        to=lambda order: f"/orders/{order.number}",
    )


@router.get("/orders/customers-like")
def customers_like(desk: View) -> Response:
    """The customers known by what was typed so far; a part of the page on which an order is taken."""
    typed = desk.request.query_params.get("customer_name", "")[:120]
    chosen = desk.request.query_params.get("customer_id", "")
    found = customers.like(desk.session, typed, 8) if typed else None
    # Someone chosen before whose name is no longer what is typed is not silently kept.
    kept = chosen if chosen in ("new", *(str(one.customer.id) for one in found or [])) else ""
    form = Form({"customer_name": typed, "customer_id": kept})
    return desk.render("orders/take.html", "known", form=form, known=found)


def statuses(desk: Desk) -> list[tuple[str, str, str]]:
    """What an order can be taken as: only who gives out quotes and confirmations takes it as either."""
    return STATUSES if amounts.changes(desk.who.role, "issued_paper.content") else STATUSES[:1]


def customer_asked(desk: Desk) -> dict[str, Any]:
    """The customer that the address names, as the form's fields."""
    if number := desk.request.query_params.get("customer", ""):
        found = customers.customer(desk.session, as_id(number) or 0)
        return {"customer_id": str(found.id), "customer_name": found.name}
    return {}


def known(desk: Desk, form: Form) -> list[customers.Known] | None:
    """Customers like the typed name; the one already chosen always among them. None before anything is typed."""
    typed, chosen = str(form.values.get("customer_name", "")), str(form.values.get("customer_id", ""))
    found = customers.like(desk.session, typed, 8) if typed else []
    customer_id = as_id(chosen)
    if customer_id and all(one.customer.id != customer_id for one in found):
        found = [*customers.by_id(desk.session, customer_id), *found]
    return found if typed or found else None


def _form(desk: Desk, form: Form, status: int = 200) -> Response:
    return desk.render(
        "orders/take.html", status=status, form=form, known=known(desk, form), statuses=statuses(desk), **choices(desk)
    )
