"""Extras that are typed as text have a price of their own: nothing reaches a quote or a confirmation unpriced."""

from decimal import Decimal
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session

from tests.api.programs import Program, key_of
from tests.pages.orders.reading import flat
from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop
from webapp.models import OrderStatus, Units
from webapp.shop.base.errors import FieldsNotAllowed, Invalid, Refused
from webapp.shop.billing import unpaid
from webapp.shop.orders import (
    flutes as ordered_flutes,
    issued,
    lists as order_list,
    money as order_money,
    rules as orders,
)
from webapp.shop.orders.flutes import as_typed
from webapp.shop.orders.forms import ChangeFlute
from webapp.shop.people.accounts import Who
from webapp.shop.people.tokens import Scope

D = Decimal
BLOCK = "a carved block"


def test_extras_are_priced_before_they_are_quoted(open_shop: OpenShop) -> None:
    shop = open_shop
    with shop.database.write() as session:
        for status in (OrderStatus.QUOTED, OrderStatus.CONFIRMED):
            with pytest.raises(Invalid) as caught:
                orders.take_order(session, shop.office, asked(shop, extras=BLOCK, status=status))
            assert list(caught.value.errors) == ["extras_price"]
        with pytest.raises(Invalid) as caught:
            orders.take_order(session, shop.office, asked(shop, extras_price=D(40)))
        assert list(caught.value.errors) == ["extras"]
        order = orders.take_order(session, shop.office, asked(shop, extras=BLOCK, status=OrderStatus.ENQUIRY))
        rows = order_list.flute_rows(session, order)
        step = order_list.next_step(order, rows)
        assert step is not None and step.words == "Agree a price for what is extra."
        with pytest.raises(Refused, match=r"extra to flute 1 \(a carved block\) has no price yet"):
            orders.quote(session, shop.office, 1, order.version)
        change(shop, session, D(40))
        orders.quote(session, shop.office, 1, order.version)
        [line] = issued.of_order(session, order)[0].content["lines"]
        assert (line["amount"], line["more"]) == ("240.00", [{"what": BLOCK, "amount": "40.00"}])
        assert BLOCK not in line["details"]
        # By hand: 240 for the flute and 40 for its block.
        assert issued.of_order(session, order)[0].content["total"] == "280.00"
        [row] = order_list.listed(session, "all", orders.today(session))[0]
        assert (row.total, order_money.sums_of(session, order).total) == (D(280), D(280))
        orders.confirm(session, shop.office, 1, order.version)
        assert unpaid.unpaid(session) == {order.id: D(280)}


def change(shop: OpenShop, session: Session, extra: Decimal | None, who: Who | None = None, **more: Any) -> None:
    order = orders.order_of(session, 1)
    (flute,) = orders.flutes_of(session, order)
    typed: dict[str, Any] = as_typed(flute, Units.MM) | {"version": order.version, "extras_price": extra} | more
    typed = {name: value for name, value in typed.items() if value not in ("", None)}
    ordered_flutes.change_flute(session, who or shop.office, 1, flute.id or 0, ChangeFlute.model_validate(typed))


def test_a_maker_who_asks_for_more_leaves_it_to_be_priced(open_shop: OpenShop) -> None:
    shop = open_shop
    with shop.database.write() as session:
        order = orders.take_order(session, shop.office, asked(shop, extras=BLOCK, extras_price=D(40)))
        (flute,) = orders.flutes_of(session, order)
        change(shop, session, None, shop.maker, price=None, reach="150", why="a small hand")
        assert flute.extras_price == D(40)
        with pytest.raises(FieldsNotAllowed):
            change(shop, session, D(1), shop.maker, price=None)
        more = BLOCK + " and an inlay"
        change(shop, session, None, shop.maker, price=None, extras=more, why="asked for on the telephone")
        assert (flute.extras, flute.extras_price) == (more, None)
        with pytest.raises(Refused, match="has no price yet"):
            orders.confirm_again(session, shop.office, 1, order.version)
        change(shop, session, D(55), why="priced")
        orders.confirm_again(session, shop.office, 1, order.version)
        assert issued.of_order(session, order)[0].content["total"] == "295.00"


def test_the_page_asks_for_the_price_and_shows_it(client: TestClient, open_shop: OpenShop) -> None:
    sent = {"customer_name": "Zoë", "customer_id": "new", "key": "A4", "scale": "minor pentatonic", "holes": "6"}
    sent |= {"a4": "440", "temperament": "equal", "count": "1", "status": "confirmed", "due_on": "2031-03-31"}
    sent |= {"price": "240", "extras": BLOCK, "species_id": str(open_shop.species())}
    asks = client.post("/orders/new", data=sent)
    assert asks.status_code == 422 and "f-extras_price-wrong" in asks.text and BLOCK in asks.text
    page = client.post("/orders/new", data=sent | {"extras_price": "40"})
    money = flat(page.text.split('id="money"')[1])
    assert f"extra to it: {BLOCK}" in money and "€40.00" in money and "€280.00" in money


def test_a_program_prices_extras_too(app: FastAPI, client: TestClient, open_shop: OpenShop) -> None:
    office = Program(app, key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE))
    taken = {"key": "A4", "price": "260.00", "status": "quoted", "customer_id": "new", "customer_name": "Wilmot"}
    taken |= {"species_id": open_shop.species(), "extras": BLOCK}
    asks = office.ask("POST", "/orders", taken)
    assert asks.status_code == 422 and [one["field"] for one in asks.json()["errors"]] == ["extras_price"]
    done = office.ask("POST", "/orders", taken | {"extras_price": "40"})
    assert (done.json()["total"], done.json()["flutes"][0]["extras_price"]) == ("300.00", "40.00")
    maker = Program(app, key_of(open_shop, open_shop.maker, Scope.READ))
    assert "extras_price" not in maker.ask("GET", "/orders/1").json()["flutes"][0]
