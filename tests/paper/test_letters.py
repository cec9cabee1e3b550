"""Quote, confirmation, packing slip and care sheet read back: all there, nothing clipped, at the longest content."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sqlmodel import Session, select

from acoustics.flute.instrument import Instrument
from tests.paper.blanks import LONGEST, NOTES, Wanted, longest_flute, put_on_the_bench
from tests.paper.reading import drawn, fonts, picture, sizes, text, words
from tests.shops import OpenShop
from webapp.drawings.charts.fingering import ChartNote
from webapp.models import Blank, BlankStatus, IssuedKind, IssuedPaper, Order, Paper, Shop, Stage
from webapp.paper.office.care_sheet import CareSheet, care_job, care_sheet
from webapp.paper.office.letters import Packed, Slip, draft_job, letter_job, packing_slip, slip_job
from webapp.paper.press.jobs import Job
from webapp.paper.press.sheets import SHEETS
from webapp.paper.press.workers import Press
from webapp.shop.flute_pages import rules as flute_pages
from webapp.shop.flute_pages.rules import FlutePagesAsked
from webapp.shop.orders import issued
from webapp.shop.wood.species import ABROAD, FOR_ITS_OWNER

LONG_NAME = LONGEST.customer
WORDS = "The rest of the terms that a careful shop puts down. " * 14 + "Last words of the terms."
DETAIL = "Totem block carved as a heron, case lined with wool felt, name engraved below hole six " * 3
EDGE = 6.0  # mm that common printers can't reach


def content(lines: int) -> dict[str, Any]:
    """As much as there realistically is on a quote or a confirmation."""
    one = {"what": "Flute in F♯4, minor pentatonic", "details": ["Rosewood (Dalbergia)", DETAIL], "amount": "1234.50"}
    change = {"what": "Flute 1, extras", "before": DETAIL, "after": "nothing", "why": "The heron broke at its neck"}
    return {
        "shop": "Alder Lane Flutes and Other Wooden Wind Instruments of the Upper Valley",
        "letterhead": "14 Millrace Yard\nLittle Quay\n0555 0100 · workshop@alder-lane.invalid\nTax number 00-0000",
        "is_demo": True,
        "currency": "USD",
        "order": 20417,
        "taken_on": "2031-01-05",
        "customer": LONG_NAME,
        "contact": "wilhelmina.featherstonehaugh-papadopoulos@riverside-ensemble.invalid",
        "address": "The Old Pump House\nWeir Lane\nUpper Sallow by the Water\nNorth Riding\nSomewhere",
        "lines": [one] * lines,
        "lines_total": "1234.50",
        "postage": "1118.50",
        "tax_name": "Sales tax of the county and the city",
        "tax_percent": "8.875",
        "tax_included": False,
        "tax": "12345.67",
        "total": "123456.78",
        "deposit": "37037.00",
        "due_on": "2031-12-31",
        "restricted": ["rosewood (Dalbergia)", "cocobolo (Dalbergia retusa)"],
        "terms": WORDS,
        "changes": [change] * 3,
    }


def paper(lines: int = 3, **more: Any) -> IssuedPaper:
    given = {"kind": IssuedKind.CONFIRMATION, "number": 12, "issued_on": date(2031, 9, 30), "order_id": 1, "by": 1}
    return IssuedPaper(**given | {"content": content(lines)} | more)


def slip(size: Paper) -> Slip:
    packed = Packed("Flute in F♯4, minor pentatonic", "ALDER-2026-00142", DETAIL)
    said = content(1)
    return Slip(
        said["shop"],
        said["letterhead"],
        True,
        size,
        20417,
        LONG_NAME,
        said["address"],
        said["contact"],
        "30 Sep 2031",
        (packed,) * 8,
        ("rosewood (Dalbergia)",),
    )


@pytest.fixture(scope="module")
def sheet() -> Callable[[Paper], CareSheet]:
    """The fullest care sheet, on either paper."""
    base = CareSheet(
        serial="ALDER-2026-00142",
        shop=content(1)["shop"],
        letterhead=content(1)["letterhead"],
        is_demo=True,
        paper=Paper.LETTER,
        key="A4",
        scale="chromatic",
        pitch="A4 = 440 Hz, Pythagorean temperament",
        wood="rosewood (Dalbergia)",
        finished="30 Sep 2031",
        instrument=Instrument.from_json(longest_flute()),
        as_cut=True,
        notes=tuple(ChartNote(fingering, name) for fingering, name, *_ in NOTES * 2)[:13],
        temperature="20 °C",
        cautions=(
            FOR_ITS_OWNER.format(wood="rosewood (Dalbergia)"),
            ABROAD.format(wood="rosewood (Dalbergia)"),
            "For whoever works on it: " + "Read the papers that came with it. " * 8,
        ),
        address="https://flutes.example:8443/flute/1042-" + "aB3_" * 8,
    )
    return lambda size: replace(base, paper=size)


def whole(pdf: bytes, size: Paper, pages: int) -> str:
    """Checks that nothing lies beyond the sheet or on another text; gives all text without white space."""
    assert len(sizes(pdf)) <= pages
    width, height = SHEETS[size]
    for number, found in enumerate(sizes(pdf)):
        assert found == pytest.approx((width, height), abs=0.1)
        boxes = [word for word in words(pdf, number) if word.text.strip() and word.top - word.bottom > 0.5]
        for word in boxes:
            assert word.left > EDGE and word.right < width - EDGE, word
            assert word.bottom > EDGE and word.top < height - EDGE, word
        for index, one in enumerate(boxes):
            for other in boxes[index + 1 :]:
                across = min(one.right, other.right) - max(one.left, other.left)
                along = min(one.top, other.top) - max(one.bottom, other.bottom)
                assert across < 0.4 or along < 0.6, (one, other)
        page = np.asarray(picture(pdf, number, 72))
        edge = int(EDGE / 25.4 * 72)
        for strip in (page[:edge], page[-edge:], page[:, :edge], page[:, -edge:]):
            assert strip.min() > 250, "ink at the sheet's edge"
        for shape in drawn(pdf, number):
            assert shape.box[0] > EDGE and shape.box[2] < width - EDGE
    assert all(fonts(pdf).values())
    # pdfium gives a hyphen at which a line ends as U+FFFE.
    return squeezed(text(pdf)).replace("\ufffe", "-")


def squeezed(words: str) -> str:
    return re.sub(r"\s", "", words)


@pytest.mark.parametrize("size", list(Paper))
def test_nothing_of_the_longest_papers_is_lost(press: Press, sheet: Callable[[Paper], CareSheet], size: Paper) -> None:
    said = content(3)
    last = [said["customer"], said["contact"], "Somewhere", "Tax number 00-0000", DETAIL, "Last words of the terms."]
    rows = ["$1,234.50", "$12,345.67", "$123,456.78", "$37,037.00", "Sales tax of the county and the city, 8.875 %"]
    found = whole(press.print(letter_job(paper(), size)), size, 3)
    for wanted in (
        *last,
        *rows,
        "The heron broke at its neck",
        "takes the place of confirmation 11",
        "no other origin",
    ):
        assert squeezed(wanted) in found, wanted
    told = paper(kind=IssuedKind.QUOTE, valid_until=date(2031, 10, 30), content=said | {"changes": []})
    quoted = whole(press.print(letter_job(told, size)), size, 3)
    assert [wanted for wanted in (*last, *rows, "holds until Thu 30 Oct 2031") if squeezed(wanted) not in quoted] == []
    assert squeezed("cocobolo (Dalbergia retusa)") in found and squeezed("authority of your country") in found
    slipped = whole(press.print(slip_job(slip(size))), size, 2)
    assert slipped.count("ALDER-2026-00142") == 8 and squeezed("take a picture, and tell us.") in slipped
    cared = whole(press.print(care_job(sheet(size))), size, 1)
    for wanted in ("sensitive to some woods or finishes.", "ALDER-2026-00142", "authority of your country", "1:"):
        assert squeezed(wanted) in cared


def test_an_ordinary_order_takes_one_page(press: Press) -> None:
    ordinary = content(2) | {"terms": "Wood moves.", "changes": [], "restricted": []}
    ordinary["lines"] = [{"what": "Flute in A4", "details": ["Black walnut"], "amount": "240.00"}] * 2
    quote = paper(kind=IssuedKind.QUOTE, number=1, valid_until=date(2031, 10, 30), content=ordinary)
    found = whole(press.print(letter_job(quote, Paper.LETTER)), Paper.LETTER, 1)
    assert squeezed("The price below holds until Thu 30 Oct 2031.") in found and squeezed("name and signature") in found
    assert "restricted" not in found
    contained = ordinary | {"tax_included": True}
    found = whole(press.print(letter_job(paper(content=contained, number=1), Paper.A4)), Paper.A4, 1)
    assert squeezed("of which Sales tax") in found and squeezed("Thank you for your order") in found


def test_papers_say_what_the_shop_knows(open_shop: OpenShop, press: Press) -> None:
    with open_shop.database.write() as session:
        (blank,) = put_on_the_bench(session, Wanted(steps=99, readings=True))
        order = session.exec(select(Order)).one()
        shop = session.get(Shop, 1)
        assert shop is not None
        shop.paper = Paper.A4
        session.commit()
        draft = whole(press.print(draft_job(session, order)), Paper.A4, 1)
        assert squeezed("Not given out") in draft and "MarenOduya" in draft
        _finish(session, blank.serial)
        found = packing_slip(session, order)
        assert [(one.what, one.serial) for one in found.packed] == [("Flute in A4, minor pentatonic", "AL-0042")]
        known = care_sheet(session, "AL-0042", "https://shop.invalid")
        assert (known.wood, known.key, len(known.notes), known.as_cut) == ("western redcedar", "A4", 7, False)
        assert issued.of_order(session, order) == []
        # What whoever plays it must know of its wood; no code, since such pages are not switched on.
        assert "plicatic acid" in " ".join(known.cautions) and known.address == ""
        care = whole(press.print(care_job(known)), Paper.A4, 1)
        assert squeezed("Some people's skin or airways react to western redcedar") in care
        flute_pages.change(session, open_shop.owner, FlutePagesAsked(is_open=True, version=0))
        coded = care_sheet(session, "AL-0042", "https://shop.invalid/")
        assert coded.address.startswith("https://shop.invalid/flute/")
        assert squeezed("this flute’s own page") in whole(press.print(care_job(coded)), Paper.A4, 1)
        assert Decimal(issued.content_of(session, order)["total"]) == 0


def _finish(session: Session, serial: str) -> None:
    blank = session.exec(select(Blank).where(Blank.serial == serial)).one()
    blank.status, blank.stage = BlankStatus.FINISHED, Stage.FINISHING
    session.add(blank)
    session.commit()


def test_no_caution_of_the_traveler_is_set_smaller_than_eight_points() -> None:
    """8 pt: what is still read at the bench without bringing the sheet to the nose (common practice)."""
    style = (Path(__file__).parents[2] / "webapp" / "templates" / "paper" / "traveler.css").read_text()
    rules = re.findall(r"([^{}]*\.caution[^{}]*)\{([^}]*)\}", style)
    found = [float(size) for _, rule in rules for size in re.findall(r"font-size:\s*([\d.]+)pt", rule)]
    assert len(found) == 4 and min(found) >= 8.0
    assert isinstance(letter_job(paper(), Paper.A4), Job)
