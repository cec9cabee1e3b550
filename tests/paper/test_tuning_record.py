"""The tuning record: what it says of a flute's last readings, and how it looks on paper."""

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlmodel import select

from tests.paper.blanks import MORNING, NOTES, Wanted, put_on_the_bench
from tests.paper.reading import codes, picture, sizes, text, words
from tests.shops import OpenShop
from webapp.models import Blank, BlankStatus, Paper, PatternRevision, Reading, Shop, Stage
from webapp.paper.office.tuning_record import TuningRecord, tuning_record
from webapp.paper.office.tuning_sheet import tuning_job
from webapp.paper.press.sheets import SHEETS
from webapp.paper.press.workers import Press
from webapp.shop.base.errors import NotFound

pytest_plugins = ["tests.shops"]

URL = "http://shop.example:8000"
MINUS = "\N{MINUS SIGN}"


def record(shop: OpenShop) -> TuningRecord:
    with shop.database.read() as session:
        return tuning_record(session, "AL-0042", URL)


def on_the_bench(shop: OpenShop, **wanted: object) -> TuningRecord:
    with shop.database.write() as session:
        put_on_the_bench(session, Wanted(**wanted))  # type: ignore[arg-type]
    return record(shop)


def test_every_note_stands_against_its_target(open_shop: OpenShop) -> None:
    found = on_the_bench(open_shop, readings=True)
    assert [(n.fingering, n.name) for n in found.notes] == [(f, n) for f, n, _, _ in NOTES]
    first = found.notes[0]
    # 7 cents below 440 Hz is 440 * 2^(-7/1200) = 438.22 Hz (the cent after Ellis, 1885).
    assert (first.target, first.read, first.off) == ("440.0", "438.2", f"{MINUS}7")
    assert first.room.startswith("20 °C, 50 %")
    assert (first.initials, first.when, first.stage) == ("IV", "3 Mar 09:40", "tuning")
    assert found.verdict == "5 of 7 notes read are within 5 cents; outside: A4, C6."


def test_it_says_what_the_breath_is_worth(open_shop: OpenShop) -> None:
    """45 cents for each doubling are 6 cents for a tenth (measured on a duct flute, tests/reference/data)."""
    found = on_the_bench(open_shop, readings=True)
    assert found.breath.startswith("In tune at the breath at which it was played; blown 10 % harder it is ")
    least, *_, most = [int(word) for word in found.breath.split("it is ")[1].split() if word.isdigit()]
    assert 2 <= least <= most <= 10


def test_without_a_flue_it_says_nothing_of_the_breath(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        put_on_the_bench(session, Wanted(readings=True))
        revision = session.exec(select(PatternRevision)).one()
        revision.instrument = {k: v for k, v in revision.instrument.items() if k not in ("flue", "chamber")}
        session.add(revision)
        session.commit()
    assert record(open_shop).breath == ""


def test_a_later_reading_takes_the_place_of_an_earlier_one(open_shop: OpenShop) -> None:
    on_the_bench(open_shop, readings=True)
    with open_shop.database.write() as session:
        for fingering in ("xxxxxx", "oooooo"):
            old = session.exec(select(Reading).where(Reading.fingering == fingering)).one()
            copied = old.model_dump(exclude={"id", "at"}) | {"cents": 2.0, "stage": Stage.FINISHING}
            session.add(Reading(**copied, at=MORNING + timedelta(days=9)))
        blank = session.exec(select(Blank)).one()
        blank.status, blank.finished_at = BlankStatus.FINISHED, MORNING + timedelta(days=9)
        session.commit()
    found = record(open_shop)
    assert (found.notes[0].off, found.notes[0].stage) == ("+2", "finishing")
    assert found.verdict == "All 7 notes read are within 5 cents of their targets."
    assert found.finished == "12 Mar 2026"


def test_what_was_not_read_is_said(open_shop: OpenShop) -> None:
    found = on_the_bench(open_shop)
    assert found.verdict == "No note has been read yet."
    assert {note.read for note in found.notes} == {""}
    with open_shop.database.write() as session:
        blank = session.exec(select(Blank)).one()
        session.add(
            Reading(
                blank_id=blank.id or 0, stage=Stage.VOICING, fingering="xxxxxx", note_name="A4", frequency=439.0,
                target=440.0, temperature=18.0, humidity=0.4, warmed_up=False, cents=-1.0, by=open_shop.maker.id,
            )
        )  # fmt: skip
        session.commit()
    found = record(open_shop)
    assert found.notes[0].room == "18 °C, 40 %, cold"
    assert found.verdict == ("The one note read is within 5 cents of its target. Not read: C5, D5, E5, G5, A5, C6.")


def test_an_unknown_serial_is_not_found(open_shop: OpenShop) -> None:
    for serial in ("AL-0042", "\x00"):
        with open_shop.database.read() as session, pytest.raises(NotFound):
            tuning_record(session, serial, URL)


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("scale", ["minor pentatonic", "chromatic"])
def test_one_page_with_all_of_it(open_shop: OpenShop, press: Press, paper: Paper, scale: str) -> None:
    on_the_bench(open_shop, readings=True, scale=scale)
    with open_shop.database.write() as session:
        shop = session.get(Shop, 1)
        assert shop is not None
        shop.paper = paper
        session.commit()
    found = record(open_shop)
    if scale == "chromatic":
        # With the longest names that there can be.
        shop_name, wood, pattern = (
            "Alder Lane Flutes, makers of two-chamber wooden flutes " * 2,
            "rosewood (Dalbergia retusa), wide",
            "Heron over the weir, long reach " * 2,
        )
        found = replace(found, shop=shop_name[:120], wood=wood, pattern=pattern[:80], is_demo=True)
    pdf = press.print(tuning_job(found))
    width, height = SHEETS[paper]
    assert sizes(pdf) == [pytest.approx((width, height), abs=0.01)]
    said = "".join(text(pdf).split())
    wanted = [found.serial, found.shop, found.verdict, found.pitch, found.wood, found.pattern, found.air]
    wanted += [part for note in found.notes for part in (note.name, note.fingering, note.target, note.read, note.off)]
    assert [part for part in wanted if "".join(part.split()) not in said] == []
    assert codes(picture(pdf, 0)) == [f"{URL}/blanks/AL-0042"]
    seen = [word for word in words(pdf, 0) if word.text.strip()]
    assert all(10 <= word.left <= word.right <= width - 10 and word.bottom >= 6 for word in seen)
