"""Customers: found by name, one customer with all orders, changing what is known of them."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import as_id
from webapp.shop.contacts import erasing, merging
from webapp.shop.contacts.erasing import Erase
from webapp.shop.contacts.merging import Merge
from webapp.shop.orders import customers, lists as order_list, rules as orders
from webapp.shop.people import diary
from webapp.shop.units.keys import show_note

router = APIRouter()
MOST_ALIKE = 30


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


@router.get("/customers/{customer_id}/merge")
def ask_merge(desk: View, customer_id: int) -> Response:
    return _merge(desk, customer_id, Form({"other_id": desk.request.query_params.get("other_id", "")[:10]}))


@router.post("/customers/{customer_id}/merge")
def merge(desk: Act, customer_id: int) -> Response:
    return desk.submit(
        lambda form: merging.merge(desk.session, desk.who, customer_id, form.read(Merge)),
        again=lambda form, status: _merge(desk, customer_id, form, status),
        to=f"/customers/{customer_id}?said=Merged.",
    )


@router.get("/customers/{customer_id}/erase")
def ask_erase(desk: View, customer_id: int) -> Response:
    return _erase(desk, customer_id, Form())


@router.post("/customers/{customer_id}/erase")
def erase(desk: Act, customer_id: int) -> Response:
    return desk.submit(
        lambda form: erasing.erase(desk.session, desk.who, customer_id, form.read(Erase)),
        again=lambda form, status: _erase(desk, customer_id, form, status),
        to=lambda gone: "/customers?said=Erased." if gone else f"/customers/{customer_id}?said=Erased.",
    )


def _merge(desk: Desk, customer_id: int, form: Form, status: int = 200) -> Response:
    customer = customers.customer(desk.session, customer_id)
    typed = desk.request.query_params.get("name", "")[:120] or customer.name
    found = [one for one in customers.like(desk.session, typed, MOST_ALIKE) if one.customer.id != customer_id]
    other_id = as_id(form.values.get("other_id", ""))
    other = next(iter(customers.by_id(desk.session, other_id)), None) if other_id else None
    return desk.render(
        "orders/customers/merge.html",
        status=status,
        customer=customer,
        typed=typed,
        found=found,
        other=other if other and other.customer.id != customer_id else None,
        form=form,
    )


def _erase(desk: Desk, customer_id: int, form: Form, status: int = 200) -> Response:
    known = next(iter(customers.by_id(desk.session, customer_id)), None)
    if known is None:
        raise NotFound(f"There is no customer {customer_id}.")
    return desk.render("orders/customers/erase.html", status=status, known=known, form=form)


def _edit(desk: Desk, customer_id: int, form: Form, status: int = 200) -> Response:
    customer = customers.customer(desk.session, customer_id)
    return desk.render("orders/customers/edit.html", status=status, customer=customer, form=form)
