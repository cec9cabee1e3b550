"""Customers."""

from dataclasses import asdict
from typing import Annotated

from pydantic import BaseModel, StringConstraints

from webapp.api.ways import Answer, Call, Way, paged, row
from webapp.shop.base.errors import Invalid
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import customers, rules as orders
from webapp.shop.orders.customers import Contact, CustomerAsked, Name, Note
from webapp.shop.orders.lists import listed
from webapp.shop.people import diary
from webapp.shop.people.tokens import Scope

MOST = 50


class NewCustomer(BaseModel):
    """Someone new; `same_name` says that another one of that name is known and this is not them."""

    name: Name
    contact: Contact = ""
    address: Annotated[str, StringConstraints(max_length=400)] = ""
    note: Note = ""
    same_name: bool = False


class CustomerNow(CustomerAsked):
    """A customer as they shall be from now on; `version` is the one that was seen."""

    version: int


def find(call: Call) -> Answer:
    found = customers.like(call.session, call.query.get("q", "")[:120], MOST * call.page + 1)
    start = MOST * (call.page - 1)
    items = [row(known.customer, orders=known.orders) for known in found[start : start + MOST]]
    return paged(items, call.page, len(found) > start + MOST)


def show(call: Call) -> Answer:
    known = customers.customer(call.session, call.number("id"))
    rows, _ = listed(call.session, "all", orders.today(call.session), 1, known.id)
    return Answer(row(known, orders=[one.order.number for one in rows]), known.version)


def add(call: Call) -> Answer:
    call.who.must_work()
    asked = call.asked(NewCustomer)
    if customers.named(call.session, asked.name) and not asked.same_name:
        raise Invalid({"name": "Someone of this name is known here. Send same_name: true if this is someone else."})
    new = customers.add(call.session, call.who, asked.name, asked.contact)
    new.note, new.address = asked.note, asked.address
    call.session.add(new)
    call.session.flush()
    return Answer(row(new), new.version, f"/api/v1/customers/{new.id}")


def change(call: Call) -> Answer:
    known = customers.change(call.session, call.who, call.number("id"), call.asked(CustomerNow))
    return Answer(row(known), known.version)


def history(call: Call) -> Answer:
    known = customers.customer(call.session, call.number("id"))
    lines = diary.read(call.session, "customer", known.id)
    return Answer({"items": [asdict(one) | {"at": plain(one.at)} for one in lines]})


WAYS = [
    Way(
        "GET",
        "/customers",
        "Customers by name",
        find,
        shows="customer",
        listed=True,
        query={"q": "part of a name"},
        does=("/customers", "/orders/customers-like"),
    ),
    Way(
        "GET",
        "/customers/{id:int}",
        "One customer, with the numbers of their orders",
        show,
        shows="customer",
        does=("/customers/{customer_id}",),
    ),
    Way("POST", "/customers", "Add a customer", add, Scope.OFFICE, NewCustomer, "customer", does=("/customers",)),
    Way(
        "PUT",
        "/customers/{id:int}",
        "Change a customer",
        change,
        Scope.OFFICE,
        CustomerNow,
        "customer",
        does=("/customers/{customer_id}/edit",),
    ),
    Way(
        "GET",
        "/customers/{id:int}/diary",
        "Who did what",
        history,
        shows="line",
        listed=True,
        does=("/customers/{customer_id}",),
    ),
]
