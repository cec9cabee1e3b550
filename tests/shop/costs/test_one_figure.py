"""One flute, one figure: every page and answer about it is read, and no label stands beside two figures."""

import re
from collections import defaultdict
from decimal import Decimal
from html import unescape

from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests import blanks as made
from tests.api.programs import Program, key_of
from tests.pages.orders.reading import flat
from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop
from webapp.models import BlankStatus, Stage, StockKind, now
from webapp.shop.costs import flute_price, rules as costs
from webapp.shop.costs.flute_price import PriceAsked
from webapp.shop.costs.rules import MinutesWere
from webapp.shop.orders import price_customs, rules as orders
from webapp.shop.orders.forms import ChangeOrder
from webapp.shop.orders.price_customs import OptionAsked, PricingAsked
from webapp.shop.people.tokens import Scope
from webapp.shop.production import opening as blanks
from webapp.shop.settings import workshop
from webapp.shop.settings.workshop import WorkshopAsked
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import NewLot

FIGURE = re.compile(r"[€−-]?[€]?\d[\d,]*\.\d\d|\d+ h \d+ min|\d+ min")
TAG = re.compile(r"<[^>]+>")


def plain(html: str) -> str:
    return " ".join(unescape(TAG.sub(" ", html)).split())


def labelled(page: str) -> dict[str, set[str]]:
    """The figures of a page by what stands beside them: facts, amounts, sums and the cells of lists of one row."""
    found: dict[str, set[str]] = defaultdict(set)
    main = flat(page.split("<main")[1])
    for term, value in re.findall(r"<dt>(.*?)</dt>\s*<dd[^>]*>(.*?)</dd>", main):
        found[plain(term)] |= set(FIGURE.findall(plain(value))[:1])
    for head, row in re.findall(r'<tr class="sum[^"]*"><th scope="row">(.*?)</th>(.*?)</tr>', main):
        found[plain(head)] |= set(FIGURE.findall(plain(row))[-1:])
    for table in re.findall(r'<table class="list".*?</table>', main):
        rows = re.findall(r'<tr role="row">(.*?)</tr>', table.split("<tbody")[1])
        if len(rows) == 1:
            for label, cell in re.findall(r'data-label="([^"]+)"[^>]*>(.*?)</td>', rows[0]):
                found[label] |= set(FIGURE.findall(plain(cell))[:1])
    for words, figure in re.findall(r"([A-Z][a-z -]+time): (\d+ h \d+ min)", plain(main)):
        found[words] |= {figure}
    return {label: figures for label, figures in found.items() if figures}


def a_flute(shop: OpenShop) -> str:
    """A finished flute with wood, an option, overhead, and minutes of its own at two stages; gives its serial."""
    with shop.database.write() as session:
        room = workshop.as_typed(workshop.workshop(session)) | {"hourly_rate": "17"}
        workshop.change(session, shop.owner, WorkshopAsked.model_validate(room))
        rates = {f"hourly_{stage}": "36" for stage in Stage} | {"minutes_tuning": 80, "overhead_percent": "6"}
        tax = {"tax_name": "VAT", "tax_percent": "20", "tax_included": True, "version": 1}
        price_customs.change(session, shop.office, PricingAsked.model_validate(rates | tax))
        option = OptionAsked(name="Case", price=Decimal(58), materials=Decimal(31), minutes=10, offered=True)
        case = price_customs.save_option(session, shop.office, None, option)
        lot = NewLot(kind=StockKind.HALVES, name="h", species_id=shop.species(), quantity=8, unit_cost=Decimal("9.80"))
        item = stock.add_lot(session, shop.owner, lot)
        revision = made.pattern(session, shop.owner)
        order = orders.take_order(session, shop.office, asked(shop, price="400"))
        (flute,) = orders.flutes_of(session, order)
        agreed = PriceAsked(version=1, options=[case.id or 0], price=Decimal(400), price_why="as told", why="a case")
        flute_price.agree(session, shop.office, 1, flute.id or 0, agreed)
        (blank,) = blanks.open_blanks(session, shop.maker, flute.id, revision, shop.species(), item.id, 1)
        for stage, minutes in ((Stage.TUNING, 104), (Stage.BORING, 72)):
            costs.set_minutes(session, shop.maker, blank.id or 0, MinutesWere(stage=stage, minutes=minutes))
        blank.status, blank.finished_at = BlankStatus.FINISHED, now()
        session.add(blank)
        posted = ChangeOrder(version=order.version, postage=Decimal("12.50"), why="to be sent")
        orders.change_order(session, shop.office, 1, posted)
        session.commit()
        return blank.serial


def test_no_label_stands_beside_two_figures(client: TestClient, app: FastAPI, open_shop: OpenShop) -> None:
    serial = a_flute(open_shop)
    seen: dict[str, dict[str, str]] = defaultdict(dict)
    pages = ("/orders/1/flutes/1/price", "/orders/1/costs", f"/blanks/{serial}/wood", f"/blanks/{serial}", "/orders/1")
    for address in pages:
        for label, figures in labelled(client.get(address).text).items():
            assert len(figures) == 1, (address, label, figures)
            seen[label][address] = figures.pop()
    differing = {label: by for label, by in seen.items() if len(set(by.values())) > 1}
    assert differing == {}
    shared = {label for label, by in seen.items() if len(by) > 1}
    assert {"Cost", "Material", "Work", "Overhead", "Options", "Hands-on time"} <= shared
    # By hand: two halves at 9.80; 72 + 25 + 40 + 45 + 104 + 75 minutes at 36.00 an hour; 6 % on both; the case 31.00
    # and ten minutes.
    work = Decimal(72 + 25 + 40 + 45 + 104 + 75) / 60 * 36
    cost = (Decimal("19.60") + work) * Decimal("1.06") + 31 + 6
    assert seen["Cost"][pages[0]] == f"€{cost:.2f}" == "€287.37"
    assert seen["Hands-on time"][pages[1]] == "6 h 1 min"
    office = Program(app, key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE))
    [of_order] = office.ask("GET", "/orders/1/costs").json()["items"]
    price = office.ask("GET", "/orders/1/flutes/1/price").json()
    assert of_order["total"] == price["recorded"]["cost"] == "287.37"
    assert of_order["minutes"] == 361


def test_the_planned_minutes_stand_once(client: TestClient, open_shop: OpenShop) -> None:
    a_flute(open_shop)
    with open_shop.database.write() as session:
        minutes = workshop.minutes(session)
        assert {rate.stage: rate.minutes for rate in price_customs.customs(session).rates} == minutes
        assert minutes[Stage.TUNING] == 80 and sum(minutes.values()) == 325
    assert "5 h 25 min in all" in flat(client.get("/shop/workshop").text)
    prices = flat(client.get("/shop/prices").text)
    assert re.search(r'name="minutes_tuning"[^>]*value="80"', prices)
    sent = {stage.value: "50" for stage in Stage}
    client.post("/shop/workshop/minutes", data=sent)
    assert re.search(r'name="minutes_tuning"[^>]*value="50"', flat(client.get("/shop/prices").text))
