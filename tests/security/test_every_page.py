"""One walk through a shop full of hostile texts, page by page: what every answer carries, and that no text comes alive.

Sources: OWASP ASVS 4.0.3, 5.3.3, 8.2.1, 14.4.1 to 14.4.7; OWASP, CSV Injection; RFC 4180 (rows of a table).
"""

import csv
import io
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response
from pypdf import PdfReader

from seed_demo.scenario import OWNER
from tests.markup import faults
from tests.security import poisoned
from tests.security.walking import Seen, walk
from tests.shops import ORIGIN
from webapp.app import make_app
from webapp.pages.frame.cookies import SIGN_IN
from webapp.security.headers import ALWAYS
from webapp.settings import Settings

FORMULA = re.compile(r"\s*[=+\-@\t\r]")
NUMBER = re.compile(r"[+-]?[\d.,]+(?:e[+-]\d+)?")
PAPERS = ("/tuning.pdf", "/count.pdf")


@dataclass(frozen=True)
class Walked:
    browser: TestClient
    pages: list[tuple[str, Response, Seen | None]]

    def of(self, kind: str) -> list[tuple[str, Response]]:
        found = [(a, r) for a, r, _ in self.pages if r.headers["content-type"].startswith(kind)]
        assert found, kind
        return found


@pytest.fixture(scope="module")
def walked(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Walked]:
    folder = tmp_path_factory.mktemp("poisoned") / "data"
    url = poisoned.poison(demo_folder, folder)
    with TestClient(make_app(Settings(data=folder)), headers={"origin": ORIGIN}) as browser:
        browser.cookies.set(SIGN_IN, poisoned.token_of_owner(url, OWNER))
        yield Walked(browser, list(walk(browser, "/", re.compile(r"\.pdf"))))


def test_every_page_is_reached_and_carries_what_browsers_must_be_told(walked: Walked) -> None:
    assert len(walked.pages) > 130
    for address, answer, _ in walked.pages:
        assert answer.status_code == 200, address
        for name, value in ALWAYS.items():
            assert answer.headers[name] == value, (address, name)
        kind = answer.headers["content-type"]
        assert "charset=utf-8" in kind or not kind.startswith("text/"), address
        # What is private is never kept by anything between us and the browser, and asked for again by the browser.
        kept = answer.headers["cache-control"]
        ours = address.startswith(("/static/", "/library/", "/fonts/"))
        assert kept.startswith("public") if ours else kept in ("no-store", "private, no-cache"), address
        assert "server" not in answer.headers and "x-powered-by" not in answer.headers
        if kind.startswith(("text/csv", "application/")) and not address.endswith((".js", ".pdf")):
            assert answer.headers["content-disposition"].startswith("attachment"), address


def test_no_page_has_anything_inline_and_no_text_becomes_a_tag(walked: Walked) -> None:
    alive, inert = [], 0
    for address, answer, seen in walked.pages:
        if seen is None:
            continue
        alive += [(address, wrong) for wrong in seen.wrong]
        alive += [(address, tag) for tag, attrs in seen.tags if "onerror" in attrs or "onclick" in attrs]
        inert += "&lt;img src=file:" in answer.text
    assert alive == []
    assert inert > 80, "the hostile texts were really there"
    for address, answer in walked.of("image/svg+xml"):
        assert "<img" not in answer.text and "<b " not in answer.text, address


def test_every_page_is_valid_html(walked: Walked) -> None:
    """So that a label is for one field and each browser and screen reader builds the same page; see tests/markup.py."""
    pages = walked.of("text/html")
    assert len(pages) > 130
    assert {address: found for address, answer in pages if (found := faults(answer.text))} == {}


def test_no_cell_of_a_table_is_a_formula(walked: Walked) -> None:
    tables = {address: answer.text for address, answer in walked.of("text/csv")}
    for address, answer in walked.of("application/zip"):
        with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
            tables |= {f"{address}/{name}": archive.read(name).decode("utf-8-sig") for name in archive.namelist()}
    assert len(tables) > 40
    hostile = 0
    for name, text in tables.items():
        for row in csv.reader(io.StringIO(text.removeprefix("\ufeff"))):
            for cell in row:
                assert not FORMULA.match(cell) or NUMBER.fullmatch(cell), (name, cell)
                hostile += cell.startswith("'=1")
    assert hostile > 100


def test_papers_print_a_text_as_it_was_typed_and_fetch_nothing(walked: Walked) -> None:
    """The press refuses a document that asks for anything outside itself, so a paper that is made asked for nothing."""
    links = {link for _, _, seen in walked.pages if seen for link in seen.links if link.endswith(PAPERS)}
    ready = re.search(r"/orders/\d+", walked.browser.get("/orders?show=ready").text.partition("<tbody")[2])
    assert len(links) >= len(PAPERS) and ready
    for link in [*sorted(links)[: len(PAPERS)], f"{ready[0]}/packing.pdf"]:
        answer = walked.browser.get(link)
        assert (answer.status_code, answer.headers["content-type"]) == (200, "application/pdf"), link
        assert answer.headers.items() >= ALWAYS.items() and answer.headers["cache-control"] == "private, no-cache"
        reader = PdfReader(io.BytesIO(answer.content))
        text = "".join(page.extract_text() for page in reader.pages).replace("\n", "").replace(" ", "")
        assert "<imgsrc=file:" in text or "<bonclick=" in text, link
        assert "/JavaScript" not in str(reader.root_object) and not reader.attachments
