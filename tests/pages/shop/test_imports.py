"""Imported tables: a preview that keeps its word, all or nothing; and everything taken out again."""

import csv
import io
import json
import re
import zipfile

import pytest
from fastapi.testclient import TestClient

from tests.shops import OpenShop, signed_in
from webapp.shop.base.errors import Invalid
from webapp.shop.exchange import csv_reading, exporting
from webapp.shop.exchange.csv_import import sample
from webapp.shop.exchange.csv_nouns import NOUNS


def send(client: TestClient, noun: str, data: str | bytes, name: str = "table.csv") -> str:
    content = data.encode() if isinstance(data, str) else data
    page = client.post("/import", data={"noun": noun}, files={"file": (name, content, "text/csv")})
    assert page.status_code in (200, 422), page.text
    return page.text


def agree(client: TestClient, page: str) -> int:
    address = re.search(
        r'action="(/import/\d+)"\s+method="post"><input type="hidden"\s+name="mark"\s+value="(\w+)"', page
    )
    assert address is not None, page
    return client.post(address[1], data={"mark": address[2]}).status_code


def becomes(page: str) -> list[str]:
    body = page.split("<tbody")[1]
    return re.findall(r"(new|changed|unchanged|can’t be)</span>", body)


def test_customers_are_new_changed_or_unchanged_and_all_or_none_come_in(
    client: TestClient, open_shop: OpenShop
) -> None:
    excel = '\ufeffCustomer;Phone;Notes\r\nZoë Márlow;0555 1;\r\n"Fern, Ltd";;=1+1\r\n'
    page = send(client, "customers", excel)
    assert becomes(page) == ["new", "new"]
    assert "semicolons" in page
    assert agree(client, page) == 200
    listed = client.get("/customers").text
    assert "Zoë Márlow" in listed and "Fern, Ltd" in listed
    # Windows-1252, other headings, a row that changes one fact, one that is as it was, one that is new, one in error.
    old = "name\tE-Mail\nZOE MARLOW\t0555 2\nFern, Ltd\t\n\t\nAsk\t" + "x" * 300 + "\nÄnne\t\n"
    page = send(client, "customers", old.encode("cp1252"))
    assert becomes(page) == ["can’t be", "changed", "unchanged", "new"]
    assert "0555 1 → 0555 2" in page
    assert "Contact: Use at most 200 characters." in page
    assert "Import all of it" not in page
    address = re.search(r'action="(/import/\d+)/give-up"', page)
    assert address is not None
    assert client.post(address[1], data={"mark": "x"}).status_code == 409
    assert "Änne" not in client.get("/customers").text
    # What the preview said no longer holds: nothing comes in, and the new preview is shown.
    page = send(client, "customers", "Name,Contact\nZoë Márlow,0555 3\n")
    later = send(client, "customers", "Name,Contact\nZoë Márlow,0555 4\n")
    assert agree(client, later) == 200
    assert agree(client, page) == 409
    assert "0555 4" in client.get("/customers").text
    signed_in(client, "kit")
    assert client.get("/import").status_code == 403
    assert client.get(address[1]).status_code in (403, 404)


def test_stock_and_patterns_come_in_by_the_shops_own_rules(client: TestClient, open_shop: OpenShop) -> None:
    page = send(client, "stock", sample("stock"))
    assert becomes(page) == ["new", "new"]
    assert agree(client, page) == 200
    counted = sample("stock").replace(",12,", ",10,").replace(",500,", ",500.0,").replace("rack B", "rack C")
    page = send(client, "stock", counted)
    assert becomes(page) == ["changed", "unchanged"]
    assert "12 → 10" in page and "rack B → rack C" in page
    assert agree(client, page) == 200
    german = (
        "Art;Kind;Name;Wood;Quantity;Unit cost\n;halves;lot two;black cherry;1.234;4,50\n;halves;x;oak of nowhere;2;1\n"
    )
    page = send(client, "stock", german)
    assert becomes(page) == ["can’t be", "new"] or "Pieces come in whole numbers" in page
    assert "Wood: The shop has no such wood" in page and "not read: Art" in page
    page = send(client, "patterns", sample("patterns"))
    assert becomes(page) == ["new"]
    assert agree(client, page) == 200
    assert becomes(send(client, "patterns", sample("patterns"))) == ["unchanged"]
    page = send(client, "patterns", sample("patterns").replace("7.5 mm", "7.6 mm"))
    assert becomes(page) == ["changed"] and "revision 1 → revision 2" in page
    page = send(client, "patterns", sample("patterns").replace("152 mm", "100 mm"))
    assert becomes(page) == ["can’t be"] and "Hole" in page
    zipped = zipfile.ZipFile(io.BytesIO(client.get("/export/tables.zip").content))
    rows = list(csv.DictReader(io.StringIO(zipped.read("stock_item.csv").decode("utf-8-sig"))))
    assert {row["name"] for row in rows} == {"walnut halves, spring", "hide glue, liquid"}
    assert not {f"{name}.csv" for name in exporting.HELD_BACK} & set(zipped.namelist())
    people = zipped.read("person.csv").decode()
    assert "argon2" not in people and "password" not in people
    everything = client.get("/export/everything.json").json()
    assert everything["pattern"][0]["name"] == "Sandpiper in A"
    assert everything["stock_item"][0]["unit_cost"] == "9.80"
    assert "argon2" not in json.dumps(everything)
    signed_in(client, "tam")
    assert client.get("/export/everything.json").status_code == 403


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"\x00\x01\x02", "no table of text"),
        (b"Colour,Size\nred,1\n", "No column is headed name"),
        (b"Name\n", "no row below"),
        (b"Name,Customer\na,b\n", "Two columns"),
        (b'Name\n"open', "Line 2"),
        (b"Name\n" + b"x\n" * 2001, "more than 2000 rows"),
        (b"x" * 900_001, "larger than"),
    ],
)
def test_files_that_are_no_such_table_say_why(data: bytes, says: str) -> None:
    with pytest.raises(Invalid, match=says):
        csv_reading.table(csv_reading.decoded(data), NOUNS["customers"].columns, ("name",))


def test_a_cell_never_begins_as_a_formula() -> None:
    """The beginnings that OWASP's page on CSV injection names (=, +, -, @, tab, carriage return)."""
    for text in ("=1+1", "+1", "-1", "@A1", "\tx", "\rx"):
        assert exporting.cell(text) == "'" + text
    assert exporting.cell(-1.5) == -1.5
    assert exporting.cell("plain") == "plain"


def test_faults_come_first_and_each_row_says_what_was_read(client: TestClient) -> None:
    rows = "".join(f"halves,lot {n},black cherry,{n}\n" for n in range(1, 30))
    page = send(client, "stock", f"Kind,Name,Wood,Quantity\n{rows}halves,the wrong one,oak of nowhere,2\n")
    assert becomes(page)[0] == "can’t be" and becomes(page).count("can’t be") == 1
    assert "Read: kind halves, name lot 7, wood black cherry, quantity 7" in " ".join(page.split())


def test_an_import_is_taken_back_by_one_button(client: TestClient) -> None:
    """New rows go, changed ones are as they were; nothing happens where work rests on them."""
    assert agree(client, send(client, "customers", "Name,Contact\nZoë Márlow,0555 3\n")) == 200
    page = send(client, "customers", "Name,Contact\nZoë Márlow,0555 9\nRosa Lind,0555 1\n")
    assert agree(client, page) == 200
    asked = client.get("/import").text
    buttons = re.findall(r'action="(/import/\d+/take-back)"', asked)
    assert len(buttons) == 2
    assert "2%20rows" in str(client.post(buttons[0]).url)
    listed = client.get("/customers").text
    assert "0555 3" in listed and "0555 9" not in listed and "Rosa Lind" not in listed
    assert client.post(buttons[0]).status_code == 404
    order = {"customer_name": "", "key": "A4", "species_id": "1", "status": "enquiry"}
    known = re.search(r'href="/customers/(\d+)"', listed)
    assert known and client.post("/orders/new", data=order | {"customer_id": known[1]}).status_code == 200
    refused = client.post(buttons[1])
    assert refused.status_code == 409 and "has an order since, so nothing was taken back" in refused.text
    assert "Zoë Márlow" in client.get("/customers").text


def test_stock_and_patterns_of_an_import_are_taken_back(client: TestClient, open_shop: OpenShop) -> None:
    for noun in ("stock", "patterns"):
        assert agree(client, send(client, noun, sample(noun))) == 200
    counted = sample("stock").replace(",12,", ",10,").replace("rack B", "rack C")
    assert agree(client, send(client, "stock", counted)) == 200
    changed, patterns, stock = re.findall(r'action="(/import/\d+/take-back)"', client.get("/import").text)
    shelf = client.get("/stock?kind=halves").text
    assert "rack C" in shelf
    assert client.post(changed).status_code == 200
    assert "rack B" in client.get("/stock?kind=halves").text
    assert client.post(patterns).status_code == 200 and "Sandpiper" not in client.get("/patterns").text
    # Counting back was a further movement of the lot.
    assert client.post(stock).status_code == 409
