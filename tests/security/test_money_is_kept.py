"""Who does not handle money sets none of it, by page or by program; what they may change, they change around it."""

import re
from decimal import Decimal
from typing import Any, get_args

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests.api.programs import Program, key_of
from tests.security import priced
from tests.shops import OpenShop, signed_in
from webapp.shop.people import amounts
from webapp.shop.people.tokens import Scope

pytestmark = pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)

SOUNDS = {"key": "A4", "scale": "minor pentatonic", "holes": "6", "a4": "440", "temperament": "equal"}
TAKEN = SOUNDS | {"customer_name": "Rosa Lindqvist", "customer_id": "new", "count": "1", "due_on": "2031-03-31"}
REPAIR = {"kind": "repair", "whose": "other", "described": "a cedar flute", "asked": "a crack"}
LOT = {"kind": "halves", "name": "spring walnut", "unit": "piece", "place": "rack B"}
# Each way of a program that takes an amount, with the field: what the tests below must send.
TAKES = {
    ("PUT", "/prices"): "consumables", ("POST", "/options"): "price", ("PUT", "/options/{id}"): "price",
    ("POST", "/orders"): "price", ("PATCH", "/orders/{number}"): "postage", ("POST", "/orders/repair"): "price",
    ("POST", "/orders/{number}/flutes"): "price", ("PUT", "/orders/{number}/flutes/{flute}"): "price",
    ("PUT", "/orders/{number}/flutes/{flute}/price"): "price", ("POST", "/orders/{number}/payments"): "amount",
    ("POST", "/orders/{number}/repairs"): "price", ("PUT", "/orders/{number}/repairs/{repair}"): "price",
    ("POST", "/stock"): "unit_cost", ("PUT", "/stock/{id}"): "unit_cost", ("PUT", "/workshop"): "hourly_rate",
    ("POST", "/sales"): "price", ("PUT", "/shelf/{serial}"): "price",
}  # fmt: skip


@pytest.fixture
def shop(client: TestClient, open_shop: OpenShop) -> OpenShop:
    """Order 1 quoted, 2 confirmed, 3 a repair, 4 an enquiry; a lot, an option, a payment, rates."""
    wood = {"species_id": str(open_shop.species())}

    def sent(address: str, data: dict[str, Any]) -> None:
        answer = client.post(address, data=data)
        assert answer.status_code == 200, (address, answer.text)

    sent("/shop/prices", {"hourly_tuning": "31.17", "minutes_tuning": "60", "deposit_percent": "25", "version": "1"})
    sent("/shop/options/new", {"name": "Carved block", "price": "65.11", "offered": "on"})
    sent("/orders/new", TAKEN | wood | {"status": "quoted", "price": "473.93"})
    sent(
        "/orders/1/edit", {"version": "1", "due_on": "2031-03-31", "postage": "19.37", "deposit": "123.45", "note": ""}
    )
    again = {"customer_id": "1", "customer_name": ""}
    sent("/orders/new", TAKEN | again | wood | {"status": "confirmed", "price": "512.61"})
    sent("/orders/repair", REPAIR | TAKEN | again | {"status": "quoted", "price": "87.23"})
    sent("/orders/new", TAKEN | again | wood | {"status": "enquiry", "price": "399.59"})
    sent("/orders/2/payments", {"kind": "deposit", "amount": "51.73", "paid_by": "cash", "paid_on": "2026-01-05"})
    sent("/stock/new", LOT | wood | {"quantity": "12", "unit_cost": "9.81"})
    sent("/shop/workshop", workshop(client) | {"hourly_rate": "29.43"})
    return open_shop


def workshop(browser: TestClient) -> dict[str, str]:
    """The workshop's form as it is filled."""
    page = browser.get("/shop/workshop").text
    form = page[page.index('action="/shop/workshop"') : page.index('id="minutes"')]
    return dict(re.findall(r'name="(\w+)"[^>]*? value="([^"]*)"', form))


def forms(species: int) -> list[tuple[str, dict[str, Any], str]]:
    """Every form that takes an amount, filled so that nothing else is wrong with it, and the amount's field."""
    flute = SOUNDS | {"species_id": str(species)}
    new = {"customer_id": "1"}
    why = {"why": "asked for"}
    return [
        ("/orders/1/edit", {"version": "2", "due_on": "2031-03-31", "postage": "7771.77"}, "postage"),
        ("/orders/1/edit", {"version": "2", "due_on": "2031-03-31", "deposit": "7771.77"}, "deposit"),
        ("/orders/1/edit", {"version": "2", "due_on": "2031-03-31", "postage": ""}, "postage"),
        ("/orders/1/edit", {"version": "2", "due_on": "2031-03-31", "deposit": ""}, "deposit"),
        ("/orders/1/flutes/1", flute | {"version": "2", "price": "7771.77"}, "price"),
        ("/orders/2/flutes/2", flute | why | {"version": "1", "price": "7771.77"}, "price"),
        ("/orders/4/flutes/3", flute | {"version": "1", "extras": "a bag", "extras_price": "7771.77"}, "extras_price"),
        ("/orders/4/flutes/new", flute | {"version": "1", "price": "7771.77", "count": "1"}, "price"),
        ("/orders/new", TAKEN | new | flute | {"status": "enquiry", "price": "7771.77"}, "price"),
        ("/orders/new", TAKEN | new | flute | {"status": "quoted"}, "status"),
        ("/orders/repair", REPAIR | new | {"status": "enquiry", "price": "7771.77"}, "price"),
        ("/orders/4/repairs/new", REPAIR | {"version": "1", "price": "7771.77"}, "price"),
        ("/orders/3/repairs/1", {"version": "1", "asked": "a crack", "price": "7771.77"}, "price"),
        ("/stock/new", LOT | {"species_id": str(species), "quantity": "3", "unit_cost": "7771.77"}, "unit_cost"),
        ("/stock/1/label", LOT | {"unit_cost": "7771.77"}, "unit_cost"),
    ]  # fmt: skip


def test_no_form_of_a_maker_sets_an_amount(client: TestClient, shop: OpenShop, migrated_database_url: str) -> None:
    before = priced.stored(migrated_database_url)
    maker = signed_in(client, "tam")
    asked = [*forms(shop.species()), ("/shop/workshop", workshop(maker) | {"hourly_rate": "7771.77"}, "hourly_rate")]
    for address, data, field in asked:
        answer = maker.post(address, data=data)
        assert answer.status_code == 403, (address, field, answer.status_code)
        assert re.search(rf'href="#f-{field}"[^>]*>[^<]*for the owner', answer.text), (address, field)
        assert "7771.77" not in answer.text, address
    shared = {"version": "2", "price": "7771.77"}
    pay = {"kind": "payment", "amount": "7771.77", "paid_by": "cash", "paid_on": "2026-01-05"}
    for address, data in [
        ("/orders/1/flutes/1/price", shared), ("/orders/2/payments", pay), ("/orders/2/payments/1", {"why": "wrong"}),
        ("/shop/prices", {"version": "2", "consumables": "7771.77"}), ("/shop/options/1", {"price": "7771.77"}),
        ("/shop/options/new", {"name": "x", "price": "7771.77"}), ("/orders/1/quote", {"version": "2"}),
        ("/orders/1/confirm", {"version": "2"}), ("/orders/2/confirmation", {"version": "1"}),
    ]:  # fmt: skip
        assert maker.post(address, data=data).status_code == 403, address
    assert priced.stored(migrated_database_url) == before


def test_a_viewer_sets_nothing(client: TestClient, shop: OpenShop, migrated_database_url: str) -> None:
    before = priced.stored(migrated_database_url)
    viewer = signed_in(client, "kit")
    for address, data, _ in forms(shop.species()):
        assert viewer.post(address, data=data).status_code == 403, address
    assert priced.stored(migrated_database_url) == before


def test_a_maker_saves_the_rest_and_the_amounts_stay(
    client: TestClient, shop: OpenShop, migrated_database_url: str
) -> None:
    before = priced.stored(migrated_database_url)
    maker = signed_in(client, "tam")
    flute = SOUNDS | {"species_id": str(shop.species()), "version": "3", "extras": "an otter block"}
    lot = dict(re.findall(r'name="(\w+)"[^>]*? value="([^"]*)"', maker.get("/stock/1/label").text))
    del lot["once"]
    done = {
        "/orders/1/edit": ("/orders/1/edit", {"version": "2", "due_on": "2031-04-30", "note": "by the window"}),
        "/orders/1/flutes/1": ("/orders/1/flutes/1", flute),
        "/orders/3/repairs/1": ("/orders/3/repairs/1", {"version": "1", "asked": "a crack at the foot"}),
        "/stock/1/label": ("/stock/1/label", lot | {"place": "rack C"}),
        "/shop/workshop": ("/shop/workshop", workshop(maker) | {"kerf": "2.8"}),
    }
    for shown, (address, data) in done.items():
        page = maker.get(shown).text
        assert not re.search(r'name="(postage|deposit|price|extras_price|unit_cost|hourly_rate)"', page), shown
        answer = maker.post(address, data=data)
        assert answer.status_code == 200, (address, answer.text)
    assert priced.stored(migrated_database_url) == before
    order = maker.get("/orders/1").text
    assert "an otter block" in order and "by the window" in order
    assert "a crack at the foot" in maker.get("/orders/3").text and "rack C" in maker.get("/stock/1").text
    # A stale form shows both versions, and no amount in either.
    stale = maker.post("/orders/1/edit", data={"version": "2", "due_on": "2031-05-30", "note": "elsewhere"})
    assert stale.status_code == 409 and "by the window" in stale.text and "19.37" not in stale.text
    stale = maker.post("/orders/1/flutes/1", data=flute | {"extras": "a wolf block"})
    assert stale.status_code == 409 and "an otter block" in stale.text and "473.93" not in stale.text
    stale = maker.post("/stock/1/label", data=lot | {"place": "rack D"})
    assert stale.status_code == 409 and "rack C" in stale.text and "9.81" not in stale.text
    stale = maker.post("/shop/workshop", data=workshop(maker) | {"version": "1"})
    assert stale.status_code == 409 and "29.43" not in stale.text
    # What a maker enters has no price until somebody writes one.
    taken = maker.post(
        "/orders/new", data=TAKEN | {"customer_id": "1", "species_id": shop.species(), "status": "enquiry"}
    )
    assert taken.url.path == "/orders/5"
    refused = maker.post("/orders/2/flutes/new", data=flute | {"version": "1", "count": "1", "why": "one more"})
    assert refused.status_code == 409 and "needs a price" in refused.text


def test_no_program_of_a_maker_sets_an_amount(
    client: TestClient, app: FastAPI, shop: OpenShop, migrated_database_url: str
) -> None:
    before = priced.stored(migrated_database_url)
    flute = SOUNDS | {"holes": 6, "a4": 440, "species_id": shop.species()}
    maker = Program(app, key_of(shop, shop.maker, *Scope))
    viewer = Program(app, key_of(shop, shop.viewer, *Scope))
    room = maker.ask("GET", "/workshop").json()
    seen = maker.ask("GET", "/stock/1").headers["etag"]
    new = {"customer_id": 1, "status": "enquiry"}
    bodies: dict[tuple[str, str], tuple[str, dict[str, Any]]] = {
        ("PUT", "/prices"): ("/prices", {"version": 2}),
        ("POST", "/options"): ("/options", {"name": "x"}),
        ("PUT", "/options/{id}"): ("/options/1", {"name": "x", "version": 1}),
        ("POST", "/orders"): ("/orders", flute | new),
        ("PATCH", "/orders/{number}"): ("/orders/1", {"version": 2, "note": "x"}),
        ("POST", "/orders/repair"): ("/orders/repair", REPAIR | new),
        ("POST", "/orders/{number}/flutes"): ("/orders/4/flutes", flute | {"version": 1}),
        ("PUT", "/orders/{number}/flutes/{flute}"): ("/orders/1/flutes/1", flute | {"version": 2}),
        ("PUT", "/orders/{number}/flutes/{flute}/price"): ("/orders/1/flutes/1/price", {"version": 2}),
        ("POST", "/orders/{number}/payments"): ("/orders/2/payments", {"paid_by": "cash", "paid_on": "2026-01-05"}),
        ("POST", "/orders/{number}/repairs"): ("/orders/4/repairs", REPAIR | {"version": 1}),
        ("PUT", "/orders/{number}/repairs/{repair}"): ("/orders/3/repairs/1", {"version": 1, "asked": "a crack"}),
        ("POST", "/stock"): ("/stock", LOT | {"species_id": shop.species(), "quantity": 3}),
        ("PUT", "/stock/{id}"): ("/stock/1", LOT),
        ("PUT", "/workshop"): ("/workshop", room),
        ("POST", "/sales"): ("/sales", {"serial": "0001"}),
        ("PUT", "/shelf/{serial}"): ("/shelf/0001", {"place": "the window", "version": 0}),
    }
    assert bodies.keys() == TAKES.keys()
    for (method, path), (address, body) in bodies.items():
        field = TAKES[method, path]
        for program in (maker, viewer):
            more = {"if_match": seen} if path == "/stock/{id}" else {}
            answer = program.ask(method, address, body | {field: "7771.77"}, **more)
            assert answer.status_code == 403, (path, answer.text)
            if program is maker and not path.startswith(("/prices", "/options", "/sales")) and "pay" not in path:
                wrong = [one["field"] for one in answer.json().get("errors", [])]
                assert wrong == [field] or path.endswith("/price"), (path, answer.text)
    for field in ("postage", "deposit"):
        emptied = maker.ask("PATCH", "/orders/1", {"version": 2, field: None})
        assert (emptied.status_code, emptied.json()["errors"][0]["field"]) == (403, field)
    assert maker.ask("POST", "/orders", flute | new | {"status": "confirmed"}).json()["errors"][0]["field"] == "status"
    for move in ("quote", "confirm", "confirm-again"):
        assert maker.ask("POST", f"/orders/1/{move}", {"version": 2}).status_code == 403
    assert priced.stored(migrated_database_url) == before
    # What is shown can be sent back as it is, and a stale change is told no amount.
    assert maker.ask("PUT", "/workshop", room).status_code == 200
    stale = maker.ask("PATCH", "/orders/1", {"version": 1, "note": "x"})
    assert stale.status_code == 412 and not {"postage", "deposit"} & stale.json()["theirs"].keys()
    stale = maker.ask("PUT", "/orders/1/flutes/1", flute | {"version": 1})
    assert stale.status_code == 412 and "price" not in stale.json()["theirs"]
    stale = maker.ask("PUT", "/stock/1", LOT, if_match='"0"')
    assert stale.status_code == 412 and "unit_cost" not in stale.json()["theirs"]
    assert maker.ask("PUT", "/stock/1", LOT | {"place": "rack C"}, if_match=seen).status_code == 200
    assert priced.stored(migrated_database_url) == before


def test_a_table_of_a_maker_sets_no_cost(
    client: TestClient, app: FastAPI, shop: OpenShop, migrated_database_url: str
) -> None:
    before = priced.stored(migrated_database_url)
    maker = Program(app, key_of(shop, shop.maker, *Scope))
    for cost in ("7771.77", "9.81"):
        table = f"Kind,Name,Wood,Place,Unit cost\nhalves,{LOT['name']},black walnut,rack D,{cost}\n"
        sent = maker.ask("POST", "/imports", {"noun": "stock", "text": table}).json()
        assert [one["field"] for one in sent["rows"][0]["wrong"]] == ["unit_cost"], sent["rows"]
        refused = maker.ask("POST", f"/imports/{sent['id']}/carry-out", {"mark": sent["mark"]})
        assert refused.status_code == 409
    table = f"Kind,Name,Wood,Place\nhalves,{LOT['name']},black walnut,rack D\n"
    sent = maker.ask("POST", "/imports", {"noun": "stock", "text": table}).json()
    assert [one["what"] for one in sent["rows"][0]["changes"]] == ["place"]
    assert maker.ask("POST", f"/imports/{sent['id']}/carry-out", {"mark": sent["mark"]}).status_code == 200
    assert priced.stored(migrated_database_url) == before


def test_the_office_sets_them_all(client: TestClient, shop: OpenShop, migrated_database_url: str) -> None:
    """Without this the tests above could pass for forms that set nothing."""
    office = signed_in(client, "bo")
    for address, data, field in forms(shop.species()):
        if data.get(field) != "7771.77":
            continue
        current = re.search(r'name="version" value="(\d+)"', office.get(address).text)
        sent = data | ({"version": current[1]} if current else {})
        assert office.post(address, data=sent).status_code == 200, address
    flat = [value for rows in priced.stored(migrated_database_url).values() for row in rows for value in row]
    assert flat.count(Decimal("7771.77")) > 10


def test_every_column_of_money_and_every_amount_that_is_taken_stands_in_the_table(
    app: FastAPI, migrated_database_url: str
) -> None:
    named = {name for matter in amounts.MATTERS for name in matter.fields}
    assert [f"{t.name}.{c.name}" for t, c in priced.money_columns() if f"{t.name}.{c.name}" not in named] == []
    takes = {
        (way.method, way.path)
        for way in app.state.described["ways"]
        if way.model is not None
        # A share of a price is no amount.
        and any(_is_amount(f.annotation) and not n.endswith("_percent") for n, f in way.model.model_fields.items())
    }
    assert takes == TAKES.keys()


def _is_amount(kind: Any) -> bool:
    return kind is Decimal or any(_is_amount(one) for one in get_args(kind))


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("Deposit: was $1,240.00, is now $525.50", "Deposit: was …, is now …"),
        ("Payment of €95.00, cash", "Payment of …, cash"),
        ("Refund of \N{MINUS SIGN}¥5,000, card", "Refund of …, card"),
        ("was SEK\u00a01,200.00, is now CA$12.00", "was …, is now …"),
        ("Flute 1, price: was 500.00, is now nothing", "Flute 1, price: was …, is now nothing"),
        ("A4: was 440.00 Hz, is now 442.25 Hz", "A4: was 440.00 Hz, is now 442.25 Hz"),
        ("TQ-0141, 12.03.2026; ALL 6 holes, 12.50 mm", "TQ-0141, 12.03.2026; ALL 6 holes, 12.50 mm"),
    ],
)  # fmt: skip
def test_words_that_were_written_before_hold_no_amounts(said: str, shown: str, migrated_database_url: str) -> None:
    assert amounts.without_amounts(said) == shown
