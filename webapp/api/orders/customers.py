"""Customers."""

from typing import Annotated

from fastapi import Query
from pydantic import BaseModel, StringConstraints
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Change, Look
from webapp.api.frame.fields import Page
from webapp.api.frame.rows import Shown, listed, model_of, paged, row, row_of, said
from webapp.api.frame.ways import OFFICE, way
from webapp.api.orders.order_shown import DiaryLine
from webapp.models import Customer
from webapp.shop.base.errors import Invalid
from webapp.shop.contacts import erasing, merging
from webapp.shop.contacts.erasing import Erase
from webapp.shop.contacts.merging import Merge
from webapp.shop.orders import customers, lists as order_list, rules as orders
from webapp.shop.orders.customers import Contact, CustomerAsked, Name, Note
from webapp.shop.people import diary

MOST = 50

CustomerFound = model_of("CustomerFound", Customer, orders=int)
CustomerShown = model_of("CustomerShown", Customer, orders=list[int])
router = ways.router("customers")


class NewCustomer(BaseModel):
    """Someone new; `same_name` says that another one of that name is known and this is not them."""

    name: Name
    contact: Contact = ""
    address: Annotated[str, StringConstraints(max_length=400)] = ""
    note: Note = ""
    same_name: bool = False


class CustomerNow(CustomerAsked):
    """A customer as they are to be from now on; `version` is the one that was seen."""

    version: int


class ErasedShown(Shown):
    """Whether the customer is gone; otherwise a number stands in the place of the name."""

    gone: bool


@router.get(
    "/customers", **way("Customers by name", "/customers", "/orders/customers-like", shows=paged(CustomerFound))
)
def find(call: Look, q: Annotated[str, Query(description="part of a name")] = "", page: Page = 1) -> Response:
    found = customers.like(call.session, q[:120], MOST * page + 1)
    start = MOST * (page - 1)
    items = [row(known.customer, orders=known.orders) for known in found[start : start + MOST]]
    return call.page(items, page, len(found) > start + MOST)


@router.get(
    "/customers/{id:int}",
    **way("One customer, with the numbers of their orders", "/customers/{customer_id}", shows=CustomerShown),
)
def show(call: Look, id: int) -> Response:
    known = customers.customer(call.session, id)
    rows, _ = order_list.listed(call.session, "all", orders.today(call.session), 1, known.id)
    return call.answer(row(known, orders=[one.order.number for one in rows]), known.version)


@router.post("/customers", **way("Add a customer", "/customers", scope=OFFICE, shows=row_of(Customer), status=201))
def add(call: Change, asked: NewCustomer) -> Response:
    call.who.must_work()
    if customers.named(call.session, asked.name) and not asked.same_name:
        raise Invalid({"name": "Someone of this name is known here. Send same_name: true if this is someone else."})
    new = customers.add(call.session, call.who, asked.name, asked.contact)
    new.note, new.address = asked.note, asked.address
    call.session.add(new)
    call.session.flush()
    return call.answer(row(new), new.version, f"/api/v1/customers/{new.id}")


@router.put(
    "/customers/{id:int}",
    **way("Change a customer", "/customers/{customer_id}/edit", scope=OFFICE, shows=row_of(Customer)),
)
def change(call: Change, id: int, asked: CustomerNow) -> Response:
    known = customers.change(call.session, call.who, id, asked)
    return call.answer(row(known), known.version)


@router.post(
    "/customers/{id:int}/merge",
    **way(
        "Make another entry part of this one", "/customers/{customer_id}/merge", scope=OFFICE, shows=row_of(Customer)
    ),
)
def merge(call: Change, id: int, asked: Merge) -> Response:
    known = merging.merge(call.session, call.who, id, asked)
    return call.answer(row(known), known.version)


@router.post(
    "/customers/{id:int}/erase",
    **way("Erase who a customer is", "/customers/{customer_id}/erase", scope=OFFICE, shows=ErasedShown),
)
def erase(call: Change, id: int, asked: Erase) -> Response:
    return call.answer({"gone": erasing.erase(call.session, call.who, id, asked)})


@router.get("/customers/{id:int}/diary", **way("Who did what", "/customers/{customer_id}", shows=listed(DiaryLine)))
def history(call: Look, id: int) -> Response:
    known = customers.customer(call.session, id)
    lines = diary.read(call.session, call.who, "customer", known.id)
    return call.answer({"items": [said(one) for one in lines]})
