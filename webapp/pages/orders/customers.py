"""Customers: found by name, one customer with all orders, changing what is known of them."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame.desk import Act, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid, Stale
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
    entries = diary.read(desk.session, "customer", customer_id)
    return desk.render(
        "orders/customers/customer.html", customer=customer, rows=rows, today=today, entries=entries, as_note=show_note
    )


@router.get("/customers/{customer_id}/edit")
def ask(desk: View, customer_id: int) -> Response:
    desk.who.must_work()
    customer = customers.customer(desk.session, customer_id)
    form = Form(customer.model_dump(include={*customers.FIELDS, "version"}))
    return desk.render("orders/customers/edit.html", customer=customer, form=form, theirs=None)


@router.post("/customers/{customer_id}/edit")
def change(desk: Act, customer_id: int) -> Response:
    desk.who.must_work()
    customer = customers.customer(desk.session, customer_id)
    form = desk.form()
    try:
        customers.change(desk.session, desk.who, customer_id, form.read(customers.CustomerAsked))
    except Invalid as error:
        return desk.render(
            "orders/customers/edit.html", status=422, customer=customer, form=form.failed(error), theirs=None
        )
    except Stale as error:
        form.values["version"] = customer.version
        return desk.render("orders/customers/edit.html", status=409, customer=customer, form=form, theirs=error.theirs)
    return desk.go(f"/customers/{customer_id}")
