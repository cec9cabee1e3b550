"""Money is for the owner and the office: as each role, in a browser and by an API key, everything that can be looked
at is looked at, and searched for amounts that stand nowhere else in the shop."""

import io
import json
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from html import unescape
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx2 import Response
from pypdf import PdfReader

from tests.security import priced
from tests.security.walking import walk
from tests.shops import ORIGIN
from webapp.app import make_app
from webapp.db import Database
from webapp.models import MailKind, Role
from webapp.pages.frame.cookies import SIGN_IN
from webapp.paper.press.workers import Press
from webapp.settings import Settings

SEES = (Role.OWNER, Role.OFFICE)
HIDDEN_FROM = (Role.MAKER, Role.VIEWER)
# What a walk must not follow: static files, what ends the sign-in, and answers that take long and hold no text.
LEAVE_OUT = re.compile(r"/static/|/fonts/|/library/|/guide|sign-out|photos/\d+/|travelers\.pdf|strip\.pdf|openapi")
# Where owner and office must see amounts.
WHERE = (
    r"/orders/\d+$", r"/orders\?", r"/orders/\d+/edit", r"/flutes/\d+$", r"/flutes/\d+/price",
    r"/orders/\d+/costs$", r"/orders/\d+/confirmation/1\.pdf", r"/stock/\d+$",
    r"/stock/\d+/label", r"/stock/to-buy$", r"/stock/to-buy\.pdf", r"/payments", r"/payments\.csv",
    r"/shop/prices", r"/shop/options/", r"/shop/workshop$", r"/export/", r"^/shop$",
    r"/api/v1/orders$", r"/api/v1/orders/\d+$", r"/api/v1/orders/\d+/papers", r"/api/v1/orders/\d+/diary",
    r"/api/v1/orders/\d+/changes", r"/api/v1/stock$", r"/api/v1/stock/\d+$", r"/api/v1/prices",
    r"/api/v1/workshop$", r"/api/v1/to-buy", r"^/books", r"/orders/\d+/bills/\d+\.pdf", r"/api/v1/books\?",
    r"/api/v1/orders/\d+/bills$",
)  # fmt: skip
_TAG = re.compile(r"<[^>]*>")
_FIELD = re.compile(r'value="([^"]*)"')
# A dollar sign before a figure, however it is spaced: the demo's currency.
_DOLLARS = re.compile(r"\$\s?-?\d[\d,]*(?:\.\d+)?")


@dataclass
class Eyes:
    """What somebody of one role saw: the text of every answer, by its address."""

    role: Role
    texts: dict[str, str] = field(default_factory=dict)
    refused: set[str] = field(default_factory=set)

    def look(self, address: str, answer: Response) -> None:
        assert answer.status_code < 500, address
        if answer.status_code == 403:
            self.refused.add(address)
        self.texts[address] = text_of(answer)

    def seeing(self, amounts: set[str]) -> dict[str, set[str]]:
        """The amounts in each answer that has any."""
        found = {address: amounts.intersection(figures(text)) for address, text in self.texts.items()}
        return {address: those for address, those in found.items() if those}


def text_of(answer: Response) -> str:
    """All that an answer says: a page's text and the values of its fields, a paper's text, every file of a zip."""
    kind = answer.headers.get("content-type", "")
    if kind.startswith("application/pdf"):
        return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    if kind.startswith("application/zip"):
        with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
            return "\n".join(archive.read(name).decode("utf-8", "replace") for name in archive.namelist())
    if kind.startswith("audio/") or (kind.startswith("image/") and "svg" not in kind):
        return ""
    text = answer.text
    if kind.startswith("text/html"):
        return unescape(_TAG.sub(" ", text) + " " + " ".join(_FIELD.findall(text)))
    return json.dumps(answer.json(), ensure_ascii=False) if kind.startswith("application/json") else text


def figures(text: str) -> set[str]:
    """The figures of a text that could be amounts, in one notation: 4,731.93, 4 731.93, 4.731,93 and 4731.93 alike."""
    spaced = re.sub(r"(?<=\d)[\s\u00a0\u202f'\u2019,.](?=\d{3}(?:\D|$))", "", text)
    return set(re.findall(r"(?<![\d.,])\d+[.]\d\d(?!\d)", spaced.replace(",", ".")))


@pytest.fixture(scope="module")
def shop(
    demo_folder: Path, tmp_path_factory: pytest.TempPathFactory, warm_press: Press
) -> Iterator[tuple[FastAPI, str]]:
    folder = tmp_path_factory.mktemp("priced") / "data"
    url = priced.fill(demo_folder, folder)
    app = make_app(Settings(data=folder), warm_press)
    with TestClient(app, headers={"origin": ORIGIN}):
        yield app, url


@pytest.fixture(scope="module")
def seen(shop: tuple[FastAPI, str]) -> dict[Role, Eyes]:
    """Where the owner's links lead, one address of each kind, and every page of an order and of a lot."""
    app, url = shop
    eyes = {role: Eyes(role) for role in Role}
    with browser(app, url, Role.OWNER) as owner:
        for address, answer, _ in walk(owner, "/", LEAVE_OUT):
            eyes[Role.OWNER].look(address, answer if answer.status_code != 503 else patiently(owner, address))
    addresses = list(dict.fromkeys([*eyes[Role.OWNER].texts, *of_every_line(url)]))
    for role in Role:
        look_at_everything(eyes[role], app, url, addresses)
    return eyes


def browser(app: FastAPI, url: str, role: Role) -> TestClient:
    made = TestClient(app, headers={"origin": ORIGIN})
    made.cookies.set(SIGN_IN, priced.entered(url, role)[0])
    return made


def patiently(client: TestClient, address: str) -> Response:
    """What is answered once the press has a place: on a busy machine it says 503 and asks to be asked again."""
    answer = client.get(address)
    for _ in range(5):
        if answer.status_code != 503:
            break
        answer = client.get(address)
    return answer


def of_every_line(url: str) -> list[str]:
    """The addresses of every order, flute, repair, paper and lot, and of what asks before it changes one."""
    database = Database(url)
    with database.read() as session:
        orders, flutes, repairs, lots = priced.lines(session)
        numbers = {order.id: order.number for order in orders}
        found = [f"/orders/{order.number}{end}" for order in orders for end in ("", "/edit")]
        printed = ("quote.pdf", "quote/1.pdf", "confirmation/1.pdf", "packing.pdf")
        found += [f"/orders/{order.number}/{paper}" for order in orders[::3] for paper in printed]
        found += [f"/orders/{numbers[one.order_id]}/flutes/{one.id}" for one in flutes]
        found += [f"/orders/{numbers[one.order_id]}/flutes/{one.id}/price" for one in flutes[:4]]
        found += [f"/orders/{numbers[one.order_id]}/repairs/{one.id}" for one in repairs]
        found += [f"/stock/{lot.id}{end}" for lot in lots for end in ("", "/label")]
        found += [f"/orders/{number}/bills/{bill}.pdf" for number, bill in priced.bills(session, orders)]
    database.close()
    shows = ("open", "due", "ready", "enquiry", "quoted", "confirmed", "in the shop", "handed over", "all")
    found += ["/books?first=2000-01-01&last=2099-12-31", "/books.csv?first=2000-01-01&last=2099-12-31"]
    return [*found, *(f"/orders?show={show}" for show in shows), "/stock?show=used-up", "/search?q=order"]


def look_at_everything(eyes: Eyes, app: FastAPI, url: str, addresses: list[str]) -> None:
    """Every page, paper, table and feed that was not looked at yet, and every answer of the API."""
    role = eyes.role
    with browser(app, url, role) as here:
        for address in addresses:
            if address in eyes.texts:
                continue
            # Of the office it is enough to know that it sees what it must.
            if role is Role.OFFICE and (".pdf" in address or not any(re.search(kind, address) for kind in WHERE)):
                continue
            eyes.look(address, patiently(here, address))
        opened = here.post("/me/calendar", data={"with_customers": "on"})
        feed = re.search(r"/calendar/[\w-]+\.ics", opened.text)
        assert feed
        eyes.look("the calendar", here.get(feed[0]))
    _, key = priced.entered(url, role)
    with TestClient(app, headers={"authorization": f"Bearer {key}"}) as program:
        for address in by_program(app, url):
            eyes.look(address, patiently(program, address))


def by_program(app: FastAPI, url: str) -> Iterator[str]:
    """Every GET of the API, of every order and lot, of a few of whatever else there is."""
    database = Database(url)
    with database.read() as session:
        orders, flutes, repairs, lots = priced.lines(session)
        numbers = {order.id: order.number for order in orders}
        serials = list(session.exec(priced.serials()))
        bills = priced.bills(session, orders)
    database.close()
    of_order = {numbers[one.order_id]: one.id for one in flutes}
    for way in app.state.described["ways"]:
        if way.method != "GET" or re.search(r"travelers|photos|strip\.pdf", way.path):
            continue
        path = f"/api/v1{way.path}"
        if "{flute" in path:
            yield from (path.format(number=number, flute=flute) for number, flute in list(of_order.items())[:5])
        elif "{repair" in path:
            yield from (path.format(number=numbers[one.order_id], repair=one.id) for one in repairs)
        elif "{bill" in path:
            yield from (path.format(number=number, bill=bill) for number, bill in bills)
        elif "{number" in path:
            some = orders[::3] if path.endswith(".pdf") else orders
            kinds = list(MailKind) if "{kind" in path else [MailKind.QUOTE]
            yield from (path.format(number=order.number, nth=1, kind=kind) for order in some for kind in kinds)
        elif "{serial" in path:
            yield from (path.format(serial=serial) for serial in serials)
        elif path == "/api/v1/stock/{id}":
            yield from (path.format(id=lot.id) for lot in lots)
        else:
            yield re.sub(r"{[^}]+}", "1", path.replace("{noun}", "stock"))
    for books in ("books", "books.csv"):
        yield f"/api/v1/{books}?first=2000-01-01&last=2099-12-31"
    yield "/api/v1/orders?show=all"
    yield "/api/v1/stock?used_up=yes"


@pytest.fixture(scope="module")
def amounts(shop: tuple[FastAPI, str], seen: dict[Role, Eyes]) -> set[str]:
    """What is stored, and what the owner sees with a dollar sign: sums, taxes, margins. Small ones could be anything,
    and are left out."""
    found = {*priced.amounts(shop[1])}
    for text in seen[Role.OWNER].texts.values():
        found |= {Decimal(one[0].lstrip("$").strip().replace(",", "")) for one in _DOLLARS.finditer(text)}
    return {f"{one:.2f}" for one in found if one >= 1000 and one % 1}


def test_owner_and_office_see_them_everywhere(amounts: set[str], seen: dict[Role, Eyes]) -> None:
    """Without this the test below could pass for having looked at nothing."""
    assert len(amounts) > 300
    for role in SEES:
        where = seen[role].seeing(amounts)
        assert len(where) > 60, role
        for kind in WHERE:
            if not (role is Role.OFFICE and (r"\.pdf" in kind or kind == r"/shop/workshop$")):
                assert any(re.search(kind, address) for address in where), (role, kind)


@pytest.mark.parametrize("role", HIDDEN_FROM)
def test_nobody_else_sees_an_amount(role: Role, amounts: set[str], seen: dict[Role, Eyes]) -> None:
    eyes = seen[role]
    assert len(eyes.texts) > 300
    assert eyes.seeing(amounts) == {}
    dollars = {address: _DOLLARS.findall(text)[:3] for address, text in eyes.texts.items() if _DOLLARS.search(text)}
    assert dollars == {}


@pytest.mark.parametrize("role", HIDDEN_FROM)
def test_what_they_may_look_at_they_still_see(role: Role, seen: dict[Role, Eyes]) -> None:
    """Hiding the amounts hides neither the orders nor the stock."""
    eyes = seen[role]
    for address in eyes.texts:
        if re.fullmatch(r"/orders/\d+|/api/v1/orders/\d+|/stock/\d+|/customers/\d+|/orders/\d+/packing\.pdf", address):
            assert address not in eyes.refused, address
    for kind in (r"/quote\.pdf", r"/quote/1\.pdf", r"/confirmation/1\.pdf", r"/quotes/1\.pdf", r"/draft\.pdf"):
        of_kind = {address for address in eyes.texts if re.search(kind, address)}
        assert of_kind and of_kind <= eyes.refused, kind
    everything = json.dumps(eyes.texts)
    assert "Flute 1" in everything and "Diary" in everything


def test_figures_are_found_in_every_notation() -> None:
    for text in ("$4,731.93", "4731.93", "4 731,93", "4.731,93", "USD\u00a04,731.93", '"4731.93"', "-4,731.93"):
        assert figures(text) == {"4731.93"}, text
