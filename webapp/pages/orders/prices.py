"""Prices: how one flute's is built up and agreed; the shop's rates, tax and rounding; the options it offers."""

from decimal import Decimal
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import FluteOption, Rounding, Stage
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.finding import as_id
from webapp.shop.costs import flute_price, time_taken
from webapp.shop.costs.flute_price import PriceAsked
from webapp.shop.orders import (
    changes as order_changes,
    flutes as ordered_flutes,
    price_customs,
    prices,
    rules as orders,
)
from webapp.shop.orders.price_customs import OptionAsked, PricingAsked
from webapp.shop.people import diary
from webapp.shop.units.keys import show_note

router = APIRouter()

LARGEST = Decimal(10) ** 9
TYPED = ("price", "price_why", "extras_price", "why", "instead_of")
OPTION_FIELDS = {"name", "price", "materials", "minutes", "offered"}


@router.get("/orders/{number}/flutes/{flute_id}/price")
def show(desk: View, number: int, flute_id: int) -> Response:
    order = orders.order_of(desk.session, number)
    flute = ordered_flutes.flute_of(desk.session, order, flute_id)
    params = desk.request.query_params
    has = [one.option_id for one in flute_price.chosen(desk.session, [flute.id]).get(flute_id, [])]
    # Looking at what other options would come to is a plain question to the address, with nothing changed.
    asked = [as_id(text) or 0 for text in params.getlist("options")] if "look" in params else has
    values: dict[str, Any] = {"options": [str(one) for one in asked], "version": order.version}
    if "look" in params:
        values |= {name: params.get(name, "")[:300] for name in TYPED}
    else:
        built = flute_price.show(desk.session, order, flute).built.price
        values |= {"price": flute.price if flute.price and flute.price != built else "", "price_why": flute.price_why}
        values["extras_price"] = "" if flute.extras_price is None else flute.extras_price
    return _flute(desk, number, flute_id, Form(values))


@router.post("/orders/{number}/flutes/{flute_id}/price")
def agree(desk: Act, number: int, flute_id: int) -> Response:
    if desk.form().values.get("look"):
        return _flute(desk, number, flute_id, desk.form("options"))
    return desk.submit(
        lambda form: flute_price.agree(desk.session, desk.who, number, flute_id, form.read(PriceAsked)),
        again=lambda form, status: _flute(desk, number, flute_id, form, status),
        to=f"/orders/{number}#flute-{flute_id}",
        lists=("options",),
    )


@router.get("/shop/prices")
def ask_customs(desk: View) -> Response:
    return _customs(desk, Form(price_customs.as_typed(price_customs.customs(desk.session))))


@router.post("/shop/prices")
def change_customs(desk: Act) -> Response:
    def rule(form: Form) -> str:
        own = form.values.pop("own", "")
        if own:
            taken = time_taken.taken(desk.session)
            form.values |= {f"minutes_{stage}": str(one.middle) for stage, one in taken.items()}
        price_customs.change(desk.session, desk.who, form.read(PricingAsked))
        return "The minutes are those of your own flutes now." if own else "Saved."

    return desk.submit(
        rule,
        again=lambda form, status: _customs(desk, form, status),
        to=lambda said: f"/shop/prices?said={quote(said)}",
    )


@router.get("/shop/options/new")
def ask_option(desk: View) -> Response:
    return _option(desk, None, Form({"offered": True}))


@router.post("/shop/options/new")
def add_option(desk: Act) -> Response:
    return desk.submit(
        lambda form: price_customs.save_option(desk.session, desk.who, None, form.read(OptionAsked)),
        again=lambda form, status: _option(desk, None, form, status),
        to="/shop/prices#options",
    )


@router.get("/shop/options/{option_id}")
def show_option(desk: View, option_id: int) -> Response:
    return _option(desk, option_id, Form.of(_fields(price_customs.option(desk.session, option_id))))


@router.post("/shop/options/{option_id}")
def change_option(desk: Act, option_id: int) -> Response:
    def rule(form: Form) -> None:
        form.must_be_fresh(_fields(price_customs.option(desk.session, option_id)))
        price_customs.save_option(desk.session, desk.who, option_id, form.read(OptionAsked))

    return desk.submit(
        rule,
        again=lambda form, status: _option(desk, option_id, form, status),
        to="/shop/prices#options",
    )


def _flute(desk: Desk, number: int, flute_id: int, form: Form, status: int = 200) -> Response:
    order = orders.order_of(desk.session, number)
    flute = ordered_flutes.flute_of(desk.session, order, flute_id)
    picked = [as_id(text) or 0 for text in form.values.get("options", [])]
    has = {one.option_id: one for one in flute_price.chosen(desk.session, [flute.id]).get(flute_id, [])}
    listed = [option for option in price_customs.options(desk.session) if option.offered or option.id in has]
    # One that the flute has already stays at the price agreed for it.
    costs = {option.id: has[option.id].price if option.id in has else option.price for option in listed}
    typed = _amount(form.values.get("price"))
    found = flute_price.show(desk.session, order, flute, picked, typed)
    agreeing = typed or found.built.price
    return desk.render(
        "orders/price.html",
        "figures" if desk.wants_fragment else None,
        status=status,
        order=order,
        flute=flute,
        found=found,
        agreeing=agreeing,
        asks=order.status in order_changes.AGREED and bool(flute.price) and agreeing != flute.price,
        had=", ".join(one.name for one in has.values()),
        has_now=", ".join(option.name for option in listed if option.id in picked),
        custom=price_customs.customs(desk.session),
        options=[(option.id, option.name, f"+ {prices.money(costs[option.id], order.currency)}") for option in listed],
        form=form,
        amount=lambda value: prices.money(value, order.currency),
        may_change=order.status in orders.OPEN,
        must_say_why=order.status in order_changes.AGREED,
        as_note=show_note,
    )


def _amount(typed: Any) -> Decimal | None:
    """A price as typed, where it is one."""
    try:
        amount = Decimal(str(typed or "").strip())
    except ArithmeticError:
        return None
    return amount if amount.is_finite() and 0 < amount < LARGEST else None


def _customs(desk: Desk, form: Form, status: int = 200) -> Response:
    return desk.render(
        "shop/prices.html",
        status=status,
        form=form,
        stages=[stage.value for stage in Stage],
        took={stage.value: one for stage, one in time_taken.taken(desk.session).items()},
        supplies=time_taken.supplies_cost(desk.session),
        roundings=[(rule.value, rule.value[:1].upper() + rule.value[1:], _example(rule)) for rule in Rounding],
        options=price_customs.options(desk.session),
        entries=diary.read(desk.session, desk.who, "shop", 1, 20),
    )


def _example(rule: Rounding) -> str:
    return f"{prices.rounded(Decimal('243.18'), rule)} for 243.18"


def _option(desk: Desk, option_id: int | None, form: Form, status: int = 200) -> Response:
    option = None if option_id is None else price_customs.option(desk.session, option_id)
    return desk.render("shop/option.html", status=status, option=option, form=form)


def _fields(option: FluteOption) -> dict[str, Any]:
    return option.model_dump(include=OPTION_FIELDS)
