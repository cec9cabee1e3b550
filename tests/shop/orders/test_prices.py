"""Prices: rounding, building up, tax, margin; then agreed on an order, with a reason where they are others."""

from datetime import date, timedelta
from decimal import Decimal

import numpy as np
import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from tests import blanks as made
from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop
from webapp.models import BlankStatus, OrderStatus, Rounding, Stage, StockKind, now
from webapp.shop.base.errors import Invalid, NotAllowed, Stale
from webapp.shop.costs import flute_price, rules as costs, time_taken
from webapp.shop.costs.flute_price import PriceAsked
from webapp.shop.costs.rules import MinutesWere
from webapp.shop.orders import issued, money as order_money, price_customs, prices, rules as orders
from webapp.shop.orders.price_customs import OptionAsked, PricingAsked
from webapp.shop.orders.prices import Extra, Part, Tax
from webapp.shop.production import opening as blanks
from webapp.shop.scheduling import past_work
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import NewLot

D = Decimal


@pytest.mark.parametrize(
    ("rule", "amount", "price"),
    [
        (Rounding.CENT, "243.185", "243.19"),  # half up, as ROUND_HALF_UP of the General Decimal Arithmetic standard
        (Rounding.NEAREST_1, "243.50", "244.00"),
        (Rounding.NEAREST_1, "243.49", "243.00"),
        (Rounding.UP_1, "243.01", "244.00"),
        (Rounding.UP_1, "243.00", "243.00"),
        (Rounding.NEAREST_5, "242.49", "240.00"),
        (Rounding.NEAREST_5, "242.50", "245.00"),
        (Rounding.UP_5, "240.01", "245.00"),
        (Rounding.NEAREST_10, "245.00", "250.00"),
        (Rounding.UP_10, "240.01", "250.00"),
        (Rounding.UP_99, "243.18", "243.99"),
        (Rounding.UP_99, "243.99", "243.99"),
        (Rounding.UP_99, "243.995", "244.99"),
        (Rounding.UP_9, "240.00", "249.00"),
        (Rounding.UP_9, "249.00", "249.00"),
        (Rounding.UP_9, "249.01", "259.00"),
        (Rounding.UP_5, "0", "0.00"),
    ],
)
def test_each_rule_of_rounding(rule: Rounding, amount: str, price: str) -> None:
    assert prices.rounded(D(amount), rule) == D(price)


def test_a_price_is_the_sum_of_its_parts() -> None:
    parts = [Part("Wood", "", D("19.60")), Part("Boring", "", D("40.00"))]
    extras = [Extra("Carved block", D("65"), D("20"))]
    built = prices.built_up(parts, D(10), D(20), extras, Tax("VAT", D(20), included=True), Rounding.UP_5, "EUR")
    # By hand: 59.60 + 5.96 = 65.56; + 20 % 13.11 + 65 = 143.67; + 20 % tax 28.73 = 172.40; up to 175, a sixth of which
    # is tax: 29.17; what rounding adds before tax is 175 - 29.17 - 143.67 = 2.16.
    assert built.cost_total == D("65.56")
    assert [part.amount for part in built.added] == [D("13.11"), D("65"), D("2.16"), D("29.17")]
    assert built.added[-1].amount == prices.sums([built.price], D(0), Tax("VAT", D(20), included=True), "EUR").tax
    assert built.price == D("175.00") == built.cost_total + sum(part.amount for part in built.added)
    left = prices.margin(built.price, built.cost_total + 20, Tax("VAT", D(20), included=True))
    assert (left.net, left.left, left.percent) == (D("145.83"), D("60.27"), D("41.3"))


def test_tax_is_added_to_the_whole_or_contained_in_it() -> None:
    lines = [D("280.50"), D("99.99")]
    added = prices.sums(lines, D("12.00"), Tax("Sales tax", D("8.875")), "USD")
    assert (added.tax, added.total) == (D("34.83"), D("427.32"))  # 392.49 x 0.08875 = 34.8335
    # At 20 % the tax contained in a price is a sixth of it: the "VAT fraction" of HMRC Notice 700 (from memory).
    contained = prices.sums([D("600.00")], D(0), Tax("VAT", D(20), included=True), "GBP")
    assert (contained.tax, contained.total) == (D("100.00"), D("600.00"))
    # The yen has no smaller unit (ISO 4217: minor unit 0).
    assert prices.sums([D("4990")], D(0), Tax("tax", D(10)), "JPY").tax == D("499.00")
    assert prices.unit("JPY") == 1
    assert prices.money(D("-1240.5"), "USD") == "\N{MINUS SIGN}$1,240.50"
    assert prices.percentage(D("8.8750")) == "8.875 %"
    assert prices.share(D("427.32"), D(30)) == D("128.00")


def test_a_price_is_built_up_agreed_and_kept_as_it_was_told(open_shop: OpenShop) -> None:
    shop = open_shop
    rates = {"minutes_boring": 60, "hourly_boring": "30.00", "minutes_tuning": 30, "hourly_tuning": "40.00"}
    custom = PricingAsked.model_validate(
        {"consumables": "6.40", "markup_percent": "10", "rounding": Rounding.UP_1, "tax_name": "VAT", **rates}
        | {"tax_percent": "19", "tax_included": True, "deposit_percent": "30"}
    )
    with shop.database.write() as session:
        with pytest.raises(NotAllowed):
            price_customs.change(session, shop.maker, custom)
        price_customs.change(session, shop.office, custom)
        session.commit()
        with pytest.raises(Stale) as stale:
            price_customs.change(session, shop.owner, custom)
        says = [stale.value.theirs[name] for name in ("tax_included", "tax_percent", "overhead_percent", "version")]
        assert says == ["on", "19", "", "2"], "as a form would send it, what is empty among it"
        session.rollback()
        halves = NewLot(
            kind=StockKind.HALVES,
            name="walnut halves",
            species_id=shop.species(),
            unit="piece",
            unit_cost=D("9.80"),
            quantity=10,
        )
        stock.add_lot(session, shop.owner, halves)
        case = price_customs.save_option(
            session, shop.office, None, OptionAsked(name="Case", price=D(58), materials=D(31), offered=True)
        )
        with pytest.raises(Invalid, match="already"):
            price_customs.save_option(session, shop.office, None, OptionAsked(name="Case", price=D(1)))
        assert case.id is not None
        order = orders.take_order(session, shop.office, asked(shop, status=OrderStatus.ENQUIRY, price=None))
        (flute,) = orders.flutes_of(session, order)
        assert flute.id is not None
        # 19.60 wood + 6.40 + 30 + 20 = 76; + 7.60; + 58 = 141.60; x 1.19 = 168.50; up to 169.
        shown = flute_price.show(session, order, flute, [case.id])
        assert (shown.built.price, shown.margin.cost, shown.missing) == (D("169.00"), D("107.00"), ())
        assert shown.margin.net == D("142.02")
        session.commit()
        with pytest.raises(NotAllowed):
            flute_price.agree(session, shop.maker, 1, flute.id, PriceAsked(version=1, options=[case.id]))
        with pytest.raises(Invalid) as caught:
            flute_price.agree(session, shop.office, 1, flute.id, PriceAsked(version=1, options=[case.id], price=D(150)))
        assert "€169.00" in caught.value.errors["price_why"]
        session.rollback()
        agreed = PriceAsked(version=1, options=[case.id], price=D(150), price_why="for a pupil")
        flute_price.agree(session, shop.office, 1, flute.id, agreed)
        assert (flute.price, flute.price_why) == (D("150.00"), "for a pupil")
        assert flute.built_up is not None and flute.built_up["price"] == "169.00"
        orders.quote(session, shop.office, 1, order.version)
        quote = issued.of_order(session, order)[0]
        assert (quote.content["total"], quote.content["tax"], quote.content["deposit"]) == ("150.00", "23.95", "45.00")
        assert "Case" in quote.content["lines"][0]["details"]
        # The customs change afterwards; what was told stays.
        dearer = custom.model_copy(update={"tax_percent": D(25), "deposit_percent": D(50), "version": 2})
        price_customs.change(session, shop.office, dearer)
        price_customs.save_option(session, shop.office, case.id, OptionAsked(name="Case", price=D(80)))
        session.refresh(order)
        assert order_money.sums_of(session, order).tax == D("23.95")
        assert order_money.deposit_of(session, order, D(150)) == D("45.00")
        assert issued.of_order(session, order)[0].content["tax_percent"] == "19"
        orders.confirm(session, shop.office, 1, order.version)
        assert issued.of_order(session, order)[0].content["tax"] == "23.95"
        # A confirmed order's price changes for a stated reason only.
        session.refresh(order)
        session.commit()
        change = PriceAsked(version=order.version, options=[], price=D(140))
        with pytest.raises(Invalid):
            flute_price.agree(session, shop.office, 1, flute.id, change)
        session.rollback()
        told = change.model_copy(update={"why": "no case after all", "price_why": "as agreed"})
        with pytest.raises(Invalid) as asks:
            flute_price.agree(session, shop.office, 1, flute.id, told)
        assert asks.value.errors == {"instead_of": "€150.00 is confirmed: is it to be €140.00?"}
        session.rollback()
        told.instead_of = D("150.00")
        flute_price.agree(session, shop.office, 1, flute.id, told)
        assert flute_price.chosen(session, [flute.id]) == {}


def test_a_new_quote_has_the_next_number_and_the_days_tax(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop, status=OrderStatus.QUOTED))
        first = issued.of_order(session, order)[0]
        assert first.valid_until == first.issued_on + timedelta(days=30)
        asked_for = PricingAsked(tax_name="VAT", tax_percent=D(10), deposit_percent=D(50))
        price_customs.change(session, open_shop.office, asked_for)
        orders.quote(session, open_shop.office, order.number, order.version)
        second = issued.of_order(session, order)[0]
        assert (second.number, second.content["tax"], second.content["deposit"]) == (2, "24.00", "132.00")
        assert (first.content["tax"], first.content["total"]) == ("0.00", "240.00")
        assert second.issued_on <= date.today() + timedelta(days=1)
        assert session.exec(select(type(second))).all()


def test_the_shops_own_times_stand_beside_the_typed_ones_and_wood_costs_what_it_did(
    open_shop: OpenShop, client: TestClient
) -> None:
    maker, species = open_shop.owner, open_shop.species()
    with open_shop.database.write() as session:
        revision = made.pattern(session, maker)
        assert time_taken.taken(session) == {}
        for count, cost in ((8, "9.00"), (4, "12.00")):
            lot = NewLot(kind=StockKind.HALVES, name="halves", species_id=species, quantity=count, unit_cost=D(cost))
            item = stock.add_lot(session, maker, lot)
        several = made.opened(session, maker, count=5)
        for blank, minutes in zip(several, (70, 80, 90, 120, 240), strict=True):
            costs.set_minutes(session, maker, blank.id or 0, MinutesWere(stage=Stage.TUNING, minutes=1))
            costs.set_minutes(session, maker, blank.id or 0, MinutesWere(stage=Stage.TUNING, minutes=minutes))
            blank.status, blank.finished_at = BlankStatus.FINISHED, now()
            session.add(blank)
        session.commit()
        # What was written down last of each flute, by hand: the middle of five is the third, of its half the others.
        assert time_taken.taken(session) == {Stage.TUNING: time_taken.Took(Stage.TUNING, 90, 80, 120, 5, True)}
        order = orders.take_order(session, open_shop.office, asked(open_shop))
        flute = orders.flutes_of(session, order)[0]
        built = flute_price.show(session, order, flute).built
        # Two halves at the mean of those that lie there: (8 x 9 + 4 x 12) / 12 each.
        assert [(part.what, part.amount) for part in built.cost] == [("Wood", D("20.00"))]
        assert "the mean of 12 in stock" in built.cost[0].how
        opened = blanks.open_blanks(session, maker, flute.id, revision, species, item.id, 1)
        built = flute_price.show(session, order, flute).built
        assert (built.cost[0].amount, built.cost[0].how) == (D("24.00"), f"halves, for blank {opened[0].serial}")
        assert flute_price.show(session, order, flute).recorded is None
        customs = {"minutes_tuning": 60, "hourly_tuning": "40", "minutes_flue": 30, "hourly_flue": "20"}
        price_customs.change(session, open_shop.office, PricingAsked(**customs, version=1))
        costs.set_minutes(session, maker, opened[0].id or 0, MinutesWere(stage=Stage.TUNING, minutes=90))
        recorded = flute_price.show(session, order, flute).recorded
        # By hand: 24 for the wood, an hour and a half at 40, the usual half hour at 20.
        assert recorded is not None and recorded.cost == D("94.00")
    page = " ".join(client.get("/shop/prices").text.split())
    assert "<strong>90 min</strong>, the middle half 80 to 120; 5 timed" in page
    typed = {"minutes_tuning": "60", "hourly_tuning": "40", "minutes_flue": "30", "version": "2", "quote_days": "30"}
    client.post("/shop/prices", data=typed | {"own": "minutes", "rounding": "to the cent"})
    with open_shop.database.read() as session:
        minutes = {rate.stage: rate.minutes for rate in price_customs.customs(session).rates}
    assert (minutes[Stage.TUNING], minutes[Stage.FLUE]) == (90, 30)


def test_the_middle_half_is_that_of_a_known_rule() -> None:
    """Hyndman and Fan (1996), type 7, as numpy's default quantiles are."""
    values = [31.0, 8.0, 12.0, 90.0, 41.0, 17.0, 64.0]
    found = past_work.middle_half(values)
    assert [found["low"], found["middle"], found["high"]] == [round(q) for q in np.quantile(values, [0.25, 0.5, 0.75])]
    assert past_work.middle_half([7.0]) == {"middle": 7, "low": 7, "high": 7, "count": 1}
