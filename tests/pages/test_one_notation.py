"""Every page and paper of the demo as a person who works in inches sees it: no mm, no degrees C, no remainders.

What is exempt was chosen in mm: the choice itself, the JSON of a flute, the interface for programs, and the label
sheets, which are sold by their size in mm.
"""

import html
import io
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from pypdf import PdfReader
from sqlmodel import Session, create_engine, select

from seed_demo.scenario import OWNER
from tests.databases import sqlite_url
from tests.security.poisoned import token_of_owner
from tests.security.walking import walk
from tests.shops import ORIGIN
from webapp.app import make_app
from webapp.models import Person, Units
from webapp.pages.frame.cookies import SIGN_IN
from webapp.settings import Settings

NOT_WALKED = re.compile(r"^/(static|library|fonts|guide|api|calendar)\b|\.(svg|dxf|csv|zip|json|ics)\b")
TAG = re.compile(r"<(?:script|style)\b.*?</(?:script|style)>|<[^>]*>", re.DOTALL)
SAID = re.compile(r"""(?:aria-label|placeholder|title)="([^"]*)"|<input[^>]*\bvalue="([^"]*)\"""")
METRIC = re.compile(r"[^.;|]{0,60}(?:(?<![\w/])(?:mm|cm|dm³)(?!\w)|°\s?C\b)[^.;|]{0,30}")
REMAINDER = re.compile(r'"\s*[-+−]\s*\d')
CHOSEN = re.compile(
    r"Lengths in mm|mm, \d+ on A4|mm, one after another on a roll|15\.9 mm or 0\.625 in|Degrees C|°C is stored"
    # Words of a step that say both, and the strip's bar, which is there to be measured with either rule.
    r"|8 mm, 5/16 in|\(?152\.4 mm"
)


def said(page: str) -> str:
    """All that a person reads or hears of a page, what its fields are filled with too."""
    spoken = [a or b for a, b in SAID.findall(page) if (a or b) not in list(Units)]
    return " ".join(html.unescape(" | ".join([TAG.sub(" | ", page), *spoken])).split())


@pytest.fixture(scope="module")
def browser(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    folder = tmp_path_factory.mktemp("inches") / "data"
    shutil.copytree(demo_folder, folder)
    url = sqlite_url(folder / "shop.sqlite3")
    engine = create_engine(url)
    with Session(engine) as session:
        owner = session.exec(select(Person).where(Person.sign_in_name == OWNER)).one()
        owner.units = Units.INCH
        session.add(owner)
        session.commit()
    engine.dispose()
    with TestClient(make_app(Settings(data=folder)), headers={"origin": ORIGIN}) as browser:
        browser.cookies.set(SIGN_IN, token_of_owner(url, OWNER))
        yield browser


def test_who_works_in_inches_reads_inches(browser: TestClient) -> None:
    wrong, papers, pages = [], 0, 0
    for address, answer, seen in walk(browser, "/", NOT_WALKED):
        assert answer.status_code == 200, address
        if answer.headers["content-type"] == "application/pdf":
            papers += 1
            text = " ".join(
                " | ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages).split()
            )
        elif seen is not None and address != "/api":
            pages += 1
            text = said(answer.text)
        else:
            continue
        text = CHOSEN.sub("", text)
        wrong += [(address, hit) for hit in METRIC.findall(text)]
        wrong += [(address, hit) for hit in REMAINDER.findall(text)]
    assert not wrong, "\n".join(map(str, wrong))
    assert pages > 90 and papers >= 8
