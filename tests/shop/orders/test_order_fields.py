"""A change of an order means what was given: every field of its own on its own, and what is not given stays."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any, Final

import pytest

from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop
from webapp.models import Order, OrderStatus, PromiseKind, TaxStatus
from webapp.shop.base.errors import Stale
from webapp.shop.orders import fields as order_fields, rules as orders
from webapp.shop.orders.forms import ChangeOrder
from webapp.shop.people import diary
from webapp.shop.scheduling import promise
from webapp.shop.scheduling.promise import AcceptDate

TODAY: Final = date.today()
GIVEN: Final[dict[str, Any]] = {
    "due_on": TODAY + timedelta(days=90),
    "note": "a tassel of red wool",
    "postage": Decimal("10.00"),
    "deposit": Decimal("70.00"),
    "tax_status": TaxStatus.EXPORT,
    "tax_reference": "EX 4711",
}


def says(order: Order) -> dict[str, Any]:
    return {name: getattr(order, name) for name in GIVEN}


def test_the_table_has_every_field_that_can_be_changed() -> None:
    changeable = set(ChangeOrder.model_fields) - {"version", "why", "sure"}
    assert {field.name for field in order_fields.FIELDS} == changeable == set(GIVEN)
    assert changeable <= set(Order.model_fields)


@pytest.mark.parametrize("name", list(GIVEN))
def test_what_is_not_given_stays(open_shop: OpenShop, name: str) -> None:
    with open_shop.database.write() as session:
        orders.take_order(session, open_shop.office, asked(open_shop, status=OrderStatus.ENQUIRY, note="first"))
        other = {"due_on": TODAY + timedelta(days=40), "note": "bring the old one", "postage": Decimal("5.00")}
        filled = GIVEN | other | {"tax_status": TaxStatus.RESALE, "tax_reference": "R 1"}
        order = orders.change_order(session, open_shop.office, 1, ChangeOrder(version=1, **(filled | {"deposit": 30})))
        before = says(order)
        assert before[name] != GIVEN[name]
        changed = orders.change_order(session, open_shop.office, 1, ChangeOrder(version=2, **{name: GIVEN[name]}))
        assert says(changed) == before | {name: GIVEN[name]}
        lines = diary.read(session, open_shop.owner, "order", order.id)
        assert lines[0].what.startswith(order_fields.named(name).words)


def test_nothing_given_changes_nothing(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop, note="first"))
        before = order.model_dump()
        orders.change_order(session, open_shop.office, 1, ChangeOrder(version=1))
        assert order.model_dump() == before


def test_what_is_given_as_empty_is_emptied(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        orders.take_order(session, open_shop.office, asked(open_shop, status=OrderStatus.ENQUIRY))
        orders.change_order(session, open_shop.office, 1, ChangeOrder(version=1, **GIVEN))
        empty = ChangeOrder(version=2, **dict.fromkeys(GIVEN) | {"note": ""})
        order = orders.change_order(session, open_shop.office, 1, empty)
        nothing = {"due_on": None, "note": "", "postage": 0, "deposit": None}
        assert says(order) == nothing | {"tax_status": TaxStatus.TAXED, "tax_reference": ""}


def test_a_deposit_that_is_emptied_after_a_quote_is_the_shops_usual_share_again(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop, status=OrderStatus.QUOTED))
        usual = order.deposit
        orders.change_order(session, open_shop.office, 1, ChangeOrder(version=1, deposit=Decimal("17.00")))
        assert order.deposit == 17
        orders.change_order(session, open_shop.office, 1, ChangeOrder(version=2, deposit=None))
        assert order.deposit == usual


def test_a_stale_answer_says_every_field(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        orders.take_order(session, open_shop.office, asked(open_shop, status=OrderStatus.ENQUIRY))
        orders.change_order(session, open_shop.office, 1, ChangeOrder(version=1, **GIVEN))
        with pytest.raises(Stale) as stale:
            orders.change_order(session, open_shop.office, 1, ChangeOrder(version=1, note="another"))
        due = GIVEN["due_on"].isoformat()
        assert stale.value.theirs == {
            "status": "enquiry",
            "due_on": due,
            "note": "a tassel of red wool",
            "postage": "10.00",
            "deposit": "70.00",
            "tax_status": "export",
            "tax_reference": "EX 4711",
        }


def test_a_promised_date_changes_the_date_and_nothing_else(
    open_shop: OpenShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[ChangeOrder] = []
    change_order = orders.change_order

    def watched(session: Any, who: Any, number: int, change: ChangeOrder) -> Order:
        seen.append(change)
        return change_order(session, who, number, change)

    monkeypatch.setattr(orders, "change_order", watched)
    with open_shop.database.write() as session:
        orders.take_order(session, open_shop.office, asked(open_shop, status=OrderStatus.ENQUIRY))
        order = orders.change_order(session, open_shop.office, 1, ChangeOrder(version=1, **GIVEN))
        day = TODAY + timedelta(days=120)
        day += timedelta(days=(7 - day.weekday()) % 7)  # a Monday: nobody works on a Sunday
        promise.accept(
            session, open_shop.office, 1, AcceptDate(kind=PromiseKind.OWN, due_on=day, version=order.version)
        )
        assert says(order) == GIVEN | {"due_on": day}
        # Nothing else is written back, and so no field is lost that a form does not know.
        assert seen[-1].model_fields_set == {"due_on", "version", "why"}
