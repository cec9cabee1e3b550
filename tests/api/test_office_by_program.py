"""The office by program: prices, papers, the customer's page, tables in and out; what is stale, what is secret."""

import io
import json
import zipfile
from pathlib import Path

from fastapi import FastAPI
from fastapi.testclient import TestClient
from PIL import Image
from sqlalchemy import text

from tests import blanks as made
from tests.api.programs import Program, key_of
from tests.shops import OpenShop
from webapp.models import Person, Role
from webapp.shop.people import rules as people
from webapp.shop.people.rules import PersonAsked
from webapp.shop.people.tokens import Scope

ORDER = {"key": "A4", "price": "260.00", "status": "quoted", "due_on": "2031-05-02", "customer_id": "new"}


def order_in(shop: OpenShop, office: Program) -> None:
    taken = office.ask("POST", "/orders", ORDER | {"customer_name": "Wilmot Ashgrove", "species_id": shop.species()})
    assert taken.status_code == 201, taken.text


def test_prices_by_program(client: TestClient, app: FastAPI, open_shop: OpenShop) -> None:
    office = Program(app, key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE))
    maker = Program(app, key_of(open_shop, open_shop.maker, *Scope))
    order_in(open_shop, office)
    customs = office.ask("GET", "/prices")
    assert office.ask("PUT", "/prices", customs.json()).status_code == 200, "what is shown can be sent back as it is"
    wanted = {"minutes_tuning": 60, "hourly_tuning": "40", "consumables": "10", "rounding": "nearest 5"}
    wanted |= {"tax_name": "VAT", "tax_percent": "20", "tax_included": True}
    assert office.ask("PUT", "/prices", wanted).status_code == 428
    changed = office.ask("PUT", "/prices", wanted, if_match=office.ask("GET", "/prices").headers["etag"])
    assert changed.json()["hourly_tuning"] == "40.00", changed.text
    stale = office.ask("PUT", "/prices", wanted, if_match=customs.headers["etag"])
    assert stale.status_code == 412 and stale.json()["theirs"]["minutes_tuning"] == "60"
    option = office.ask("POST", "/options", {"name": "Carved block", "price": "65", "minutes": 90, "offered": True})
    number, seen = option.json()["id"], option.headers["etag"]
    dearer = {"name": "Carved block", "price": "70", "minutes": 90, "offered": True}
    assert office.ask("PUT", f"/options/{number}", dearer, if_match=seen).json()["price"] == "70.00"
    assert office.ask("PUT", f"/options/{number}", dearer, if_match=seen).status_code == 412
    price = "/orders/1/flutes/1/price"
    # By hand: 10, 40 for an hour at the bench, 70 for the block. The order was quoted before there was any VAT.
    looked = office.ask("GET", f"{price}?options={number}")
    assert looked.json()["built_up"]["price"] == "120.00"
    assert looked.json()["missing"] and office.ask("GET", price).json()["options"] == []
    assert office.ask("GET", f"{price}?options=x").status_code == 422
    agreed = office.ask("PUT", price, {"options": [number]}, if_match=looked.headers["etag"])
    assert agreed.json()["price"] == "120.00", agreed.text
    assert [one["name"] for one in agreed.json()["options"]] == ["Carved block"]
    assert office.ask("PUT", price, {"options": []}, if_match=looked.headers["etag"]).status_code == 412
    reason = office.ask("PUT", price, {"options": [number], "price": "150"}, if_match=agreed.headers["etag"])
    assert [one["field"] for one in reason.json()["errors"]] == ["price_why"]
    # A price's build-up shows the margin: it is for those who see prices, whatever the key's scopes.
    for path in (price, "/prices", "/options", "/orders/1/costs", "/payments", "/payments.csv"):
        assert maker.ask("GET", path).status_code == 403, path
        assert office.ask("GET", path).status_code == 200, path
    assert maker.ask("PUT", price, {"options": []}, if_match=agreed.headers["etag"]).status_code == 403
    assert maker.ask("PUT", "/prices", wanted | {"version": 2}).status_code == 403
    assert office.ask("PUT", "/hours/1", {"monday": 4}).status_code == 403
    closed = office.ask("POST", "/closed", {"first": "2031-05-02", "why": "stocktaking"})
    assert office.ask("POST", f"/closed/{closed.json()['id']}/open").json()["closed"] == []


def test_the_customers_page_is_told_once_and_kept_nowhere(
    client: TestClient, app: FastAPI, open_shop: OpenShop, migrated_database_url: str
) -> None:
    office = Program(app, key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE))
    order_in(open_shop, office)
    page = "/orders/1/status-page"
    shown = office.ask("GET", page)
    assert shown.json() == {
        "open": False,
        "since": None,
        "says": {
            "shop": "Alder Lane Flutes",
            "contact": [],
            "number": 1,
            "status": "quoted",
            "promised": None,
            "pieces": [{"words": "not begun", "stages_behind": 0}],
            "before": None,
        },
    }
    opened = office.ask("POST", page, {}, if_match=shown.headers["etag"], idempotency_key="open-1")
    assert opened.status_code == 200 and opened.headers["cache-control"] == "no-store"
    address = opened.json()["address"]
    secret = address.rsplit("/", 1)[1]
    assert client.get(f"/status/{secret}").status_code == 200
    # Sent again it does nothing, and says that the answer is not told twice.
    again = office.ask("POST", page, {}, if_match=shown.headers["etag"], idempotency_key="open-1")
    assert again.status_code == 409 and "kept nowhere" in again.json()["detail"]
    assert secret not in again.text and client.get(f"/status/{secret}").status_code == 200
    with open_shop.database.read() as session:
        assert session.execute(text("SELECT body FROM api_answered")).scalars().all() == [""]
        names = session.execute(text("SELECT status_digest FROM customer_order")).scalars().all()
    assert len(names) == 1 and secret not in str(names)
    if migrated_database_url.startswith("sqlite"):
        # In the file and in its log, whatever table it might have got into.
        file = Path(migrated_database_url.removeprefix("sqlite:///"))
        for part in file.parent.glob(file.name + "*"):
            assert secret.encode() not in part.read_bytes(), part
    closed = office.ask("POST", page + "/close", {}, if_match=opened.headers["etag"])
    assert closed.json()["open"] is False and client.get(f"/status/{secret}").status_code == 404


def test_papers_and_changes_by_program(client: TestClient, app: FastAPI, open_shop: OpenShop) -> None:
    office = Program(app, key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE))
    viewer = Program(app, key_of(open_shop, open_shop.viewer, Scope.READ))
    order_in(open_shop, office)
    office.ask("POST", "/orders/1/confirm", {"version": 1})
    office.ask("PATCH", "/orders/1", {"due_on": "2031-06-01", "why": "Their wedding moved."}, if_match='"2"')
    [change] = office.ask("GET", "/orders/1/changes").json()["items"]
    assert (change["after"], change["told"], change["by"]) == ("1 Jun 2031", False, "Bo")
    assert office.ask("POST", "/orders/1/confirm-again", {"version": 3}).status_code == 200
    assert office.ask("GET", "/orders/1/changes").json()["items"][0]["told"] is True
    assert "Their wedding moved." in office.ask("GET", "/orders/1/diary").text
    given = office.ask("GET", "/orders/1/papers").json()["items"]
    assert [(one["kind"], one["number"]) for one in given] == [
        ("order confirmation", 2),
        ("order confirmation", 1),
        ("quote", 1),
    ]
    assert given[0]["content"]["changes"][0]["why"] == "Their wedding moved."
    letter = office.ask("GET", "/orders/1/quotes/1.pdf")
    assert letter.content.startswith(b"%PDF-") and letter.headers["content-type"] == "application/pdf"
    assert 'filename="quote-1-1.pdf"' in letter.headers["content-disposition"]
    assert office.ask("GET", "/orders/1/confirmations/3.pdf").json()["type"] == "/api#problem-not-found"
    assert viewer.ask("GET", "/orders/1/quotes/1.pdf").json()["type"] == "/api#problem-not-allowed"
    assert "content" not in viewer.ask("GET", "/orders/1/papers").json()["items"][0]
    assert viewer.ask("GET", "/stock/labels.pdf").status_code == 409
    assert office.ask("GET", "/stock/labels.pdf?sheet=none").status_code == 422
    assert office.ask("GET", "/blanks/none/care.pdf").status_code == 404


def test_tables_by_program(client: TestClient, app: FastAPI, open_shop: OpenShop) -> None:
    office = Program(app, key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE))
    maker = Program(app, key_of(open_shop, open_shop.maker, *Scope))
    sample = office.ask("GET", "/imports/samples/customers.csv")
    assert sample.headers["content-type"].startswith("text/csv") and sample.text.startswith("Name,")
    wrong = office.ask(
        "POST", "/imports", {"noun": "customers", "text": "name,contact\nRosa Lindqvist,\n,rosa@example.org\n"}
    )
    assert wrong.status_code == 201, wrong.text
    assert [one["fate"] for one in wrong.json()["rows"]] == ["new", "wrong"]
    assert wrong.json()["rows"][1]["wrong"][0]["field"] == "name"
    path = wrong.headers["location"].removeprefix("/api/v1")
    assert office.ask("POST", path + "/carry-out", {"mark": wrong.json()["mark"]}).status_code == 409
    assert office.ask("GET", "/customers").json()["items"] == []
    assert maker.ask("GET", path).status_code == 404, "another's table"
    assert office.ask("POST", path + "/give-up").status_code == 200
    sent = office.ask(
        "POST", "/imports", {"noun": "customers", "text": "name;contact\nRosa Lindqvist;rosa@example.org\n"}
    )
    path = sent.headers["location"].removeprefix("/api/v1")
    assert office.ask("GET", path).json()["mark"] == sent.json()["mark"]
    done = office.ask("POST", path + "/carry-out", {"mark": sent.json()["mark"]})
    assert done.json() == {"new": 1, "changed": 0, "unchanged": 0, "wrong": 0}
    assert office.ask("GET", path).status_code == 404
    everything = json.loads(office.ask("GET", "/export/everything.json").content)
    assert [one["name"] for one in everything["customer"]] == ["Rosa Lindqvist"]
    assert "api_token" not in everything
    with zipfile.ZipFile(io.BytesIO(office.ask("GET", "/export/tables.zip").content)) as archive:
        assert "Rosa Lindqvist" in archive.read("customer.csv").decode()
    assert maker.ask("GET", "/export/everything.json").status_code == 403


def test_stale_labels_and_pictures_by_program(client: TestClient, app: FastAPI, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        [blank] = made.opened(session, open_shop.maker, flute_id=made.order(session))
    maker = Program(app, key_of(open_shop, open_shop.maker, *Scope))
    lot = {"kind": "halves", "name": "Walnut halves", "species_id": open_shop.species(), "unit": "piece"}
    new = maker.ask("POST", "/stock", lot | {"quantity": 6})
    path = new.headers["location"].removeprefix("/api/v1")
    first, second = maker.ask("GET", path), maker.ask("GET", path)
    assert maker.ask("PUT", path, lot | {"place": "rack 2"}).status_code == 428
    assert maker.ask("PUT", path, lot | {"place": "rack 2"}, if_match=first.headers["etag"]).json()["place"] == "rack 2"
    stale = maker.ask("PUT", path, lot | {"place": "loft"}, if_match=second.headers["etag"])
    assert stale.status_code == 412 and stale.json()["theirs"]["place"] == "rack 2"
    # What moves on the shelf changes what is shown, not the label: the label can still be changed.
    seen = maker.ask("GET", path).headers["etag"]
    maker.ask("POST", path + "/receive", {"quantity": 2})
    assert maker.ask("GET", path, if_none_match=seen).json()["there"] == 8
    assert maker.ask("PUT", path, lot | {"place": "loft"}, if_match=seen).status_code == 200
    wood = f"/woods/{open_shop.species()}"
    asked = {"name": "black walnut", "sensitising": True}
    assert maker.ask("PUT", wood, asked, if_match='"0"').status_code == 412
    assert maker.ask("PUT", wood, asked, if_match=maker.ask("GET", wood).headers["etag"]).status_code == 200
    routing = maker.ask("POST", "/routings/begin")
    usual = f"/routings/{routing.json()['id']}"
    renamed = maker.ask("PUT", usual, {"name": "Ours"}, if_match=routing.headers["etag"])
    assert renamed.status_code == 200, renamed.text
    assert maker.ask("POST", f"{usual}/steps/bore/up", if_match=routing.headers["etag"]).status_code == 412
    # A defect with its picture, sent as the file itself.
    defects = f"/blanks/{blank.serial}/defects"
    found = maker.ask("POST", defects, {"cause": "crack", "start": 120, "grave": True}).json()
    picture = io.BytesIO()
    Image.new("RGB", (40, 30), "brown").save(picture, "JPEG")
    at = f"/blanks/{blank.serial}/photos?caption=the+crack&defect_id={found['id']}"
    kept = maker.ask("POST", at, picture.getvalue(), content_type="image/jpeg")
    assert kept.status_code == 201, kept.text
    assert maker.ask("POST", at, picture.getvalue(), content_type="text/plain").status_code == 415
    assert maker.ask("POST", at, b"no picture", content_type="image/jpeg").json()["errors"][0]["field"] == "file"
    assert Program(app, "fb_none").ask("POST", at, picture.getvalue(), content_type="image/jpeg").status_code == 401
    same = kept.headers["location"].removeprefix("/api/v1")
    assert maker.ask("GET", same + "/picture.jpg?size=small").headers["content-type"] == "image/jpeg"
    assert maker.ask("GET", defects).json()["items"][0]["cause"] == "crack"
    decided = maker.ask("POST", f"{defects}/{found['id']}/decide", {"decided": "leave it", "why": "It is outside."})
    assert decided.status_code == 201, decided.text
    assert maker.ask("POST", same + "/take-back", {"why": "blurred"}).status_code == 200
    assert maker.ask("GET", same + "/picture.jpg").status_code == 404


def test_an_answer_is_not_told_again_to_someone_whose_role_was_changed(
    client: TestClient, app: FastAPI, open_shop: OpenShop
) -> None:
    office = Program(app, key_of(open_shop, open_shop.office, *Scope))
    enquiry = ORDER | {"customer_name": "Wilmot Ashgrove", "species_id": open_shop.species()}
    first = office.ask("POST", "/orders", enquiry, idempotency_key="order-1")
    assert first.status_code == 201 and "260.00" in first.text
    with open_shop.database.write() as session:
        known = session.get_one(Person, open_shop.office.id)
        asked = PersonAsked(name=known.name, role=Role.MAKER, active=True)
        people.change(session, open_shop.owner, open_shop.office.id, asked, None)
    again = office.ask("POST", "/orders", enquiry, idempotency_key="order-1")
    assert again.status_code == 409 and "kept nowhere" in again.json()["detail"]
    assert len(office.ask("GET", "/orders").json()["items"]) == 1
