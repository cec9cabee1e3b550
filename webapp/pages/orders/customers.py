"""Customers: found by name, one customer with all orders, changing what is known of them."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.orders import customers, lists as order_list, rules as orders
from webapp.shop.people import diary
from webapp.shop.units.keys import show_note

router = APIRouter()


@router.get("/customers")
def find(desk: View) -> Response:
    typed = desk.request.query_params.get("name", "")[:120]
    known = customers.like(desk.session, typed, 100)
    block = "found" if desk.wants_fragment else None
    return desk.render("orders/customers/list.html", block, known=known, typed=typed)


@router.get("/customers/{customer_id}")
def show(desk: View, customer_id: int) -> Response:
    customer = customers.customer(desk.session, customer_id)
    today = orders.today(desk.session)
    rows, _more = order_list.listed(desk.session, "all", today, customer_id=customer_id)
    entries = diary.read(desk.session, desk.who, "customer", customer_id)
    return desk.render(
        "orders/customers/customer.html", customer=customer, rows=rows, today=today, entries=entries, as_note=show_note
    )


@router.get("/customers/{customer_id}/edit")
def ask(desk: View, customer_id: int) -> Response:
    customer = customers.customer(desk.session, customer_id)
    return _edit(desk, customer_id, Form(customer.model_dump(include={*customers.FIELDS, "version"})))


@router.post("/customers/{customer_id}/edit")
def change(desk: Act, customer_id: int) -> Response:
    return desk.submit(
        lambda form: customers.change(desk.session, desk.who, customer_id, form.read(customers.CustomerAsked)),
        again=lambda form, status: _edit(desk, customer_id, form, status),
        to=f"/customers/{customer_id}",
    )


def _edit(desk: Desk, customer_id: int, form: Form, status: int = 200) -> Response:
    customer = customers.customer(desk.session, customer_id)
    return desk.render("orders/customers/edit.html", status=status, customer=customer, form=form)
