"""Defects and what is decided about them, from the bench to the figures of the shop."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from tests import blanks as made
from tests.pages.blanks.test_photos import jpeg, sending
from tests.shops import OpenShop, signed_in
from webapp.models import Blank, BlankStatus, DefectChoice, Event, OrderStatus, Reservation, at
from webapp.shop.base.errors import Refused
from webapp.shop.blanks import yields
from webapp.shop.blanks.yields import Period, Share
from webapp.shop.people import diary
from webapp.shop.production import defects
from webapp.shop.production.defects import Decide, RecordDefect
from webapp.shop.production.opening import GiveUp, give_up


def test_a_share_carries_the_interval_in_which_the_long_run_share_lies() -> None:
    # Newcombe 1998, Statistics in Medicine 17, 857, table I, method 3 (from memory): 81 of 263, 15 of 148, 0 of 20.
    for part, of, low, high in ((81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611)):
        assert Share("", part, of).interval == pytest.approx((low, high), abs=5e-5)
    assert Share("", 0, 0).interval == (0.0, 1.0)


def test_a_defect_from_the_bench_to_firewood(client: TestClient, open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        flute = made.order(session, OrderStatus.IN_THE_SHOP)
        blank = made.opened(session, maker, flute_id=flute)[0]
        spare = made.opened(session, maker)[0]
        step = made.step(session, blank, "halves").id
        spare_id = spare.id or 0
    here = "/blanks/0001"
    assert "write a defect down" in client.get(here).text
    assert "No defects are on record" in client.get(f"{here}/defects").text
    for typed, says in [
        ({}, "fill this in"),
        ({"cause": "bad luck"}, "Choose one of the list."),
        ({"cause": "crack", "end": "30"}, "where it begins too"),
        ({"cause": "crack", "start": "50", "end": "30"}, "ends before it begins"),
        ({"cause": "crack", "start": "far"}, "length"),
    ]:
        answer = client.post(f"{here}/defects", data=typed)
        assert (answer.status_code, says in answer.text) == (422, True), (typed, answer.text[:300])
    asked = {"cause": "crack", "start": "120", "end": "160", "what": "Along the grain", "grave": "on"}
    page = client.post(f"{here}/defects", data=asked).text
    assert "grave, nothing decided" in page and 'aria-label="Where along the blank: 1: crack"' in page
    # It waits: nothing is recorded on it, the rack and its own page say so; a picture hangs at the defect.
    assert client.post(f"{here}/steps/{step}", data={"outcome": "passed"}).status_code == 409
    assert "It waits for a decision" in client.get(here).text and "defect: decide" in client.get("/").text
    page = client.post(f"{here}/photos", data={"defect_id": "1"}, files=sending(jpeg()))
    assert page.url.path == f"{here}/defects" and "/photos/1/small.jpg" in page.text
    # Decided to be filled, it goes on; found worse, it is decided again, and both decisions stay.
    decide = f"{here}/defects/1"
    assert client.post(decide, data={"decided": "fill"}).status_code == 422
    assert client.post(decide, data={"decided": "hope", "why": "x"}).status_code == 422
    assert client.post("/blanks/0002/defects/1", data={"decided": "fill", "why": "x"}).status_code == 404
    client.post(decide, data={"decided": "fill", "why": "Thin glue, clamped"})
    assert client.post(f"{here}/steps/{step}", data={"outcome": "passed"}).status_code == 200
    page = client.post(decide, data={"decided": "firewood", "why": "It opened again"}).text
    assert "Thin glue, clamped" in page and "It opened again" in page
    with open_shop.database.write() as session:
        blank = session.exec(select(Blank).where(Blank.serial == "0001")).one()
        assert (blank.status, blank.grave_defect, blank.defects_open) == (BlankStatus.FIREWOOD, False, 0)
        assert not session.exec(select(Reservation).where(Reservation.ended_at == None)).all()  # noqa: E711
        told = session.exec(select(Event.what).where(Event.subject == "order")).all()
        assert "0001 became firewood: its flute of this order needs a new blank" in told
        with pytest.raises(Refused):
            defects.decide(session, maker, 1, Decide(decided=DefectChoice.FILL, why="x"))
        session.rollback()
        # A defect that was none counts nowhere; one that is left alone is no scrap.
        for cause, decided in [("tear-out", DefectChoice.NO_DEFECT), ("over-cut", DefectChoice.LEAVE)]:
            found = defects.record(session, maker, spare_id, RecordDefect(cause=cause))
            defects.decide(session, maker, found.id or 0, Decide(decided=decided, why="looked again"))
        give_up(session, maker, spare_id, GiveUp(why="dropped"))
        figures = yields.of_period(session, Period(first=date(2020, 1, 1), last=date(2040, 1, 1)))
    assert (figures.overall.part, figures.overall.of) == (0, 2)
    assert {(s.name, s.part, s.of) for s in figures.causes} == {("crack", 1, 2), (yields.NOT_SAID, 1, 2)}
    assert {(s.name, s.part, s.of) for s in figures.found} == {("crack", 1, 1), ("over-cut", 0, 1)}
    assert [(s.name, s.of) for s in figures.woods] == [("black walnut", 2)]
    assert {(s.name, s.of) for s in figures.people} == {("Ines Varga", 1), (yields.NOBODY, 1)}
    page = client.get("/yields")
    assert "Crack" in page.text and "0 of 2" in page.text and "blames nobody" in page.text
    assert client.get("/yields?first=2030-01-02&last=2030-01-01").status_code == 422
    assert client.get("/yields?first=soon").status_code == 422
    assert "Choose a longer period" in client.get("/yields?first=2019-01-01&last=2019-01-02").text
    # The shop's own names; who only looks decides nothing.
    answer = client.post("/yields/causes", data={"name": "Crack"})
    assert answer.status_code == 422, answer.text
    assert "Chatter marks" in client.post("/yields/causes", data={"name": "chatter marks"}).text
    kit = signed_in(client, "kit")
    assert 'method="post"' not in kit.get(f"{here}/defects").text.split("<main", 1)[1]
    for address, data in [(f"{here}/defects", asked), (decide, {"decided": "fill", "why": "x"})]:
        assert kit.post(address, data=data).status_code == 403
    assert kit.post("/yields/causes", data={"name": "stain"}).status_code == 403


def test_a_blank_is_made_to_a_shorter_pattern_and_leaves_its_order(client: TestClient, open_shop: OpenShop) -> None:
    maker = open_shop.maker
    shorter = replace(made.FLUTE, bore=((-8.5, 19.05), (300.0, 19.05)))
    with open_shop.database.write() as session:
        flute = made.order(session, OrderStatus.IN_THE_SHOP)
        blank = made.opened(session, maker, flute_id=flute)[0]
        short_id = made.pattern(session, maker, "B4", shorter)
        long_id = made.pattern(session, maker, "G4", replace(made.FLUTE, bore=((-8.5, 19.05), (360.0, 19.05))))
        wide_id = made.pattern(session, maker, "C5", replace(shorter, bore=((-8.5, 22.0), (300.0, 22.0))))
        defects.record(session, maker, blank.id or 0, RecordDefect(cause="tear-out", grave=True))
    page = client.get("/blanks/0001/defects").text
    assert f'<option value="{short_id}"' in page
    assert f'<option value="{long_id}"' not in page and f'<option value="{wide_id}"' not in page
    asked = {"decided": "another key", "why": "Cut above the tear-out", "revision_id": long_id}
    answer = client.post("/blanks/0001/defects/1", data=asked)
    assert answer.status_code == 409 and "would have to be longer" in answer.text
    client.post("/blanks/0001/defects/1", data=asked | {"revision_id": short_id})
    with open_shop.database.read() as session:
        blank = session.exec(select(Blank)).one()
        assert (blank.key, blank.revision_id, blank.ordered_flute_id) == ("B4", short_id, None)
        assert (blank.waits_for, blank.defects_open) == (None, 0)
        told = session.exec(select(Event.what).where(Event.subject == "order")).all()
        assert any("its flute of this order needs a new blank" in line for line in told)
    assert "Made to Pattern in B4" in client.get("/blanks/0001").text


def test_scrap_is_known_by_the_blank_not_by_words_in_its_diary(open_shop: OpenShop) -> None:
    maker, march = open_shop.maker, datetime(2026, 3, 3, 14, 20, tzinfo=UTC)
    with open_shop.database.write() as session:
        scrap, kept = (made.opened(session, maker)[0] for _ in range(2))
        with at(march):
            give_up(session, maker, scrap.id or 0, GiveUp(why="dropped"))
        assert scrap.given_up_at == march and kept.given_up_at is None
        # Said in other words, and said later once more as somebody types it.
        for event in session.exec(select(Event).where(Event.subject == "blank", Event.subject_id == scrap.id)):
            event.what = event.what.replace("Given up: firewood", "Made into kindling")
            session.add(event)
        for blank in (scrap, kept):
            diary.write(session, maker, "blank", blank.id, "Given up: firewood for the stove, they say")
        session.commit()
        spring = yields.of_period(session, Period(first=date(2026, 3, 1), last=date(2026, 3, 31)))
        later = yields.of_period(session, Period(first=date(2026, 4, 1), last=date(2040, 1, 1)))
    assert (spring.overall.part, spring.overall.of) == (0, 1)
    assert later.overall.of == 0
