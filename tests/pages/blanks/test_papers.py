"""Papers by their addresses: who may print, what comes back, what does not exist."""

from io import BytesIO

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from pypdf import PdfReader
from sqlmodel import select

from tests.paper.blanks import Wanted, put_on_the_bench
from tests.paper.reading import codes, picture, sizes
from tests.shops import OpenShop, signed_in
from webapp.models import Pattern
from webapp.paper.press.workers import NotPrinted
from webapp.settings import Settings

pytest_plugins = ["tests.shops"]


@pytest.fixture
def bench(client: TestClient, open_shop: OpenShop):
    """The signed-in browser, with two blanks of order 7 on the bench."""
    with open_shop.database.write() as session:
        put_on_the_bench(session, Wanted(blanks=2))
    return client


def test_a_traveler_is_shown_in_the_browser_under_its_serial(bench: TestClient) -> None:
    answer = bench.get("/blanks/AL-0042/traveler.pdf")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["content-disposition"] == 'inline; filename="traveler-AL-0042.pdf"'
    assert answer.headers["cache-control"] == "private, no-cache"
    assert len(PdfReader(BytesIO(answer.content)).pages) == 2
    assert codes(picture(answer.content, 0)) == ["http://testserver/blanks/AL-0042"]


def test_the_code_has_the_shops_own_address_where_one_is_set(bench: TestClient, app: FastAPI) -> None:
    settings: Settings = app.state.settings
    app.state.settings = settings.model_copy(update={"public_url": "https://flutes.example"})
    answer = bench.get("/blanks/AL-0042/traveler.pdf")
    assert codes(picture(answer.content, 0)) == ["https://flutes.example/blanks/AL-0042"]


def test_all_travelers_of_an_order_come_as_one_file(bench: TestClient) -> None:
    answer = bench.get("/orders/7/travelers.pdf")
    assert answer.status_code == 200
    assert answer.headers["content-disposition"] == 'inline; filename="travelers-order-7.pdf"'
    assert len(sizes(answer.content)) == 4
    texts = [page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages]
    assert "AL-0042-2" not in texts[0]
    assert "AL-0042-2" in texts[2]
    assert all(f"page {1 + index % 2} of 2" in text for index, text in enumerate(texts))


def test_the_tuning_record_of_a_blank(bench: TestClient) -> None:
    answer = bench.get("/blanks/AL-0042/tuning.pdf")
    assert answer.status_code == 200
    assert answer.headers["content-disposition"] == 'inline; filename="tuning-AL-0042.pdf"'
    assert len(sizes(answer.content)) == 1


def test_the_layout_strip_of_a_revision(bench: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.read() as session:
        pattern = session.exec(select(Pattern.id)).one()
    answer = bench.get(f"/patterns/{pattern}/3/strip.pdf")
    assert answer.status_code == 200
    assert answer.headers["content-disposition"].startswith('inline; filename="strip-A4-')
    assert sizes(answer.content)[0] == pytest.approx((279.4, 215.9), abs=0.01)


@pytest.mark.parametrize(
    "address",
    [
        "/blanks/AL-9999/tuning.pdf",
        "/patterns/1/99/strip.pdf",
        "/patterns/99/1/strip.pdf",
        "/patterns/99999999999999999999/1/strip.pdf",
        "/blanks/AL-9999/traveler.pdf",
        "/blanks/%00/traveler.pdf",
        "/orders/8/travelers.pdf",
        "/orders/eight/travelers.pdf",
        "/orders/99999999999999999999999/travelers.pdf",
    ],
)
def test_what_does_not_exist_is_not_found(bench: TestClient, address: str) -> None:
    answer = bench.get(address)
    assert answer.status_code == 404
    assert "text/html" in answer.headers["content-type"]


def test_papers_need_a_sign_in(bench: TestClient) -> None:
    bench.cookies.clear()
    papers = ("/blanks/AL-0042/traveler.pdf", "/blanks/AL-0042/tuning.pdf", "/patterns/1/3/strip.pdf")
    for address in (*papers, "/orders/7/travelers.pdf"):
        answer = bench.get(address, follow_redirects=False)
        assert answer.status_code == 303
        assert answer.headers["location"] == f"/sign-in?then={address}"


def test_someone_who_may_only_look_may_print(bench: TestClient) -> None:
    assert signed_in(bench, "kit").get("/blanks/AL-0042/traveler.pdf").status_code == 200


def test_a_press_that_fails_says_so_on_a_page(bench: TestClient, app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_job: object) -> bytes:
        raise NotPrinted("The printing worker stopped. Please try again.")

    monkeypatch.setattr(app.state.press, "print", refuse)
    answer = bench.get("/blanks/AL-0042/traveler.pdf")
    assert answer.status_code == 503
    assert "The printing worker stopped" in answer.text
