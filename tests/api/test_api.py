"""The shop by program: keys, scopes, versions, repeats, problems; an order until its promise, a blank's first step."""

import re

from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests import blanks as made
from tests.api.programs import AT, Program, key_of
from tests.shops import OpenShop, signed_in
from webapp.api.application import WAYS
from webapp.api.frame.call import JSON
from webapp.shop.people.tokens import Scope


def test_an_order_by_program(client: TestClient, app: FastAPI, open_shop: OpenShop) -> None:
    office = Program(app, key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE))
    assert office.ask("GET", "/me").json()["name"] == "Bo"
    new = office.ask("POST", "/customers", {"name": "Wilmot Ashgrove"}, idempotency_key="one-1")
    again = office.ask("POST", "/customers", {"name": "Wilmot Ashgrove"}, idempotency_key="one-1")
    assert (new.status_code, again.status_code) == (201, 201)
    assert new.json() == again.json() and again.headers["idempotency-replayed"] == "true"
    other = office.ask("POST", "/customers", {"name": "Someone Else"}, idempotency_key="one-1")
    assert (other.status_code, other.json()["type"]) == (422, "/api#problem-key-used-before")
    assert len(office.ask("GET", "/customers").json()["items"]) == 1
    twice = office.ask("POST", "/customers", {"name": "wilmot ashgrove"})
    assert twice.json()["errors"][0]["field"] == "name"
    assert twice.headers["content-type"] == "application/problem+json"
    wanted = {
        "customer_id": new.json()["id"],
        "key": "A4",
        "species_id": open_shop.species(),
        "reach": 180.5,
        "price": "260.00",
        "status": "quoted",
        "due_on": "2031-05-02",
        "count": 2,
    }
    wrong = office.ask("POST", "/orders", wanted | {"key": "H9", "colour": "red"})
    assert wrong.status_code == 422 and wrong.json()["errors"] == [
        {"field": "colour", "message": "There is no such field."}
    ]
    order = office.ask("POST", "/orders", wanted)
    assert order.status_code == 201, order.text
    assert order.headers["location"] == f"{AT}/orders/1"
    shown = office.ask("GET", "/orders/1")
    assert shown.headers["etag"].startswith('"1-')
    assert shown.json()["total"] == "520.00"
    assert [flute["reach"] for flute in shown.json()["flutes"]] == [180.5, 180.5]
    assert office.ask("GET", "/orders/1", if_none_match=shown.headers["etag"]).status_code == 304
    assert office.ask("POST", "/orders/1/confirm", {}).status_code == 428
    assert office.ask("POST", "/orders/1/confirm", {}, if_match='"1"').json()["status"] == "confirmed"
    stale = office.ask("PATCH", "/orders/1", {"due_on": "2031-06-01", "why": "asked"}, if_match='"1"')
    assert stale.status_code == 412 and stale.json()["theirs"]["status"] == "confirmed"
    promised = office.ask(
        "POST", "/orders/1/promise", {"kind": "own", "due_on": "2031-06-03", "why": "agreed"}, if_match='"2"'
    )
    assert promised.status_code == 201, promised.text
    assert office.ask("GET", "/orders/1/promise").json()["promised"]["due_on"] == "2031-06-03"
    assert office.ask("GET", "/orders/1").json()["due_on"] == "2031-06-03"
    paid = {"amount": "100.00", "paid_by": "cash", "paid_on": "2026-01-05", "kind": "deposit"}
    known = office.ask("GET", "/orders/1").headers["etag"]
    assert office.ask("POST", "/orders/1/payments", paid).json()["amount"] == "100.00"
    # The order is of the same version, and yet shows more: whoever asks again is told.
    paid_now = office.ask("GET", "/orders/1", if_none_match=known)
    assert paid_now.status_code == 200 and paid_now.headers["etag"].split("-")[0] == known.split("-")[0]
    assert [one["number"] for one in office.ask("GET", "/search?q=wilm").json()["orders"]] == [1]
    # What its scopes do not cover, or its person's role: refused alike.
    assert office.ask("POST", "/blanks", {"revision_id": 1, "species_id": 1}).status_code == 403
    viewer = Program(app, key_of(open_shop, open_shop.viewer, Scope.READ, Scope.OFFICE))
    assert "payments" in office.ask("GET", "/orders/1").json()
    assert "payments" not in viewer.ask("GET", "/orders/1").json()
    # Prices are for owner and office alone, in every answer that shows the order.
    maker = Program(app, key_of(open_shop, open_shop.maker, Scope.READ, Scope.OFFICE))
    version = maker.ask("GET", "/orders/1").headers["etag"]
    changed = maker.ask("PATCH", "/orders/1", {"due_on": "2031-06-04", "why": "asked"}, if_match=version)
    assert changed.status_code == 200, changed.text
    for answer in (changed, maker.ask("GET", "/orders/1"), viewer.ask("GET", "/orders/1")):
        assert [flute.keys() & {"built_up", "price_why", "price"} for flute in answer.json()["flutes"]] == [set()] * 2
        assert not {"total", "postage", "deposit", "paid"} & answer.json().keys()
    assert {"built_up", "price_why"} <= office.ask("GET", "/orders/1").json()["flutes"][0].keys()
    assert viewer.ask("POST", "/customers", {"name": "Nobody"}).status_code == 403


def test_the_bench_by_program_and_what_goes_wrong(client: TestClient, app: FastAPI, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        flute = made.order(session)
        [blank] = made.opened(session, open_shop.maker, flute_id=flute)
    bench = Program(app, key_of(open_shop, open_shop.maker, Scope.READ, Scope.WORK))
    shown = bench.ask("GET", f"/blanks/{blank.serial}").json()
    first = shown["steps"][0]
    entry = bench.ask("POST", f"/steps/{first['id']}/entries", {"note": "by program"})
    assert entry.status_code == 201, entry.text
    assert bench.ask("POST", f"/steps/{first['id']}/entries", {}).status_code == 409
    assert bench.ask("POST", f"/entries/{entry.json()['id']}/take-back", {"why": "a mistake"}).status_code == 201
    assert bench.ask("GET", "/blanks?stage=boring").json()["items"][0]["serial"] == blank.serial
    assert bench.ask("GET", "/blanks?stage=baking").status_code == 422
    assert bench.ask("GET", "/patterns").json()["items"][0]["key"] == "A4"
    assert bench.ask("GET", "/stock").json()["items"] == []
    for problem, answer in (
        ("not-found", bench.ask("GET", "/blanks/none")),
        ("not-found", bench.ask("GET", "/orders/99999999999999999999")),
        ("not-found", bench.ask("GET", "/nowhere")),
        ("not-that-way", bench.ask("DELETE", "/orders/1")),
        ("no-key", Program(app, "fb_wrong").ask("GET", "/me")),
        ("no-key", bench.browser.get(AT + "/me")),
    ):
        assert answer.json()["type"] == f"/api#problem-{problem}", answer.text
        assert answer.headers["content-type"] == "application/problem+json"
    headers = {"authorization": f"Bearer {bench.key}"}
    for body, kind in (
        (b"{", "application/json"),
        (b"[]", "application/json"),
        (b"a=1", "text/plain"),
        (b'"\xff', "application/json"),
    ):
        answer = bench.browser.post(AT + "/glue-ups", content=body, headers=headers | {"content-type": kind})
        assert answer.status_code == 415, answer.text
    head = bench.browser.head(AT + "/patterns", headers=headers)
    assert (head.status_code, head.content) == (200, b"")
    # A cookie is no key, and no other site gets past the door with one.
    assert client.get(AT + "/me").status_code == 401
    assert bench.browser.post(AT + "/glue-ups", headers={"origin": "https://elsewhere.example"}).status_code == 403
    # Whatever is sent, every way answers with something of its own.
    everything = Program(app, key_of(open_shop, open_shop.owner, *Scope))
    odd = {"version": -1, "name": "\x00", "count": "1e999", "why": {"a": []}, "quantity": "nan"}
    for way in WAYS:
        path = re.sub(r"{[^}]+}", "1", way.path)
        for body in ({}, odd) if way.method != "GET" else (None,) if way.gives == JSON else ():
            answer = everything.ask(way.method, path, body)
            assert answer.status_code < 500, (way.method, path, answer.text)


def test_keys_are_made_once_shown_once_and_revoked(client: TestClient, app: FastAPI, open_shop: OpenShop) -> None:
    page = client.post("/me/keys", data={"name": "shop window", "scopes": ["read"], "days": "90"})
    found = re.search(r"<code\s+class=\"key\">(fb_[\w-]+)</code>", page.text)
    assert found is not None
    assert found[1] not in client.get("/me/keys").text
    program = Program(app, found[1])
    assert program.ask("GET", "/me").json()["role"] == "owner"
    assert program.ask("POST", "/customers", {"name": "x"}).status_code == 403
    listed = client.get("/me/keys").text
    assert "not yet" not in listed
    [address] = set(re.findall(r'action="(/me/keys/\d+/revoke)"', listed))
    signed_in(client, "tam")
    assert client.post(address).status_code == 404
    assert "fb_" not in client.get("/me/keys").text.split("<h2>A new key")[0]
    signed_in(client, "ines")
    assert client.post(address).status_code == 200
    assert program.ask("GET", "/me").status_code == 401
    assert client.post("/me/keys", data={"name": "", "scopes": []}).status_code == 422
    assert "GET /orders" in client.get("/api").text


def test_the_description_names_every_way_and_every_reference(app: FastAPI) -> None:
    """OpenAPI 3.1.0 (OpenAPI Initiative, 2021): required fields, unique operation ids, path parameters, references."""
    document = TestClient(app).get(AT + "/openapi.json").json()
    assert document["openapi"].startswith("3.1") and {"title", "version"} <= set(document["info"])
    operations = [op for ways in document["paths"].values() for op in ways.values()]
    assert len(operations) == len(WAYS)
    assert len({op["operationId"] for op in operations}) == len(operations)
    for path, ways in document["paths"].items():
        for op in ways.values():
            named = {one["name"] for one in op.get("parameters", []) if one["in"] == "path"}
            assert named == set(re.findall(r"{(\w+)}", path))
            assert op["responses"]
    refs = set(re.findall(r"'\$ref': '#/components/schemas/([^']+)'", str(document)))
    assert refs <= set(document["components"]["schemas"])
    assert "password_hash" not in str(document)
