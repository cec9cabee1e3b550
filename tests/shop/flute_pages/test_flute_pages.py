"""A flute's own page: off until the owner switches it on, its address unguessable and for life, no person on it."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
from sqlmodel import Session, select

from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import (
    Blank,
    BlankStatus,
    FlutePages,
    Order,
    OrderedFlute,
    Repair,
    RepairKind,
    Species,
    Stage,
    at,
    now,
)
from webapp.shop.base.errors import NotAllowed, NotFound, Refused, Stale
from webapp.shop.flute_pages import address, rules as flute_pages
from webapp.shop.flute_pages.content import page_of
from webapp.shop.flute_pages.rules import FlutePagesAsked
from webapp.shop.orders.repair_state import under_way


@pytest.fixture
def session(open_shop: OpenShop) -> Iterator[Session]:
    with open_shop.database.write() as session:
        yield session


@pytest.fixture
def flute(session: Session, open_shop: OpenShop) -> Blank:
    """A flute of a customer, finished, each note read two cents sharp."""
    [blank] = made.opened(session, open_shop.maker, flute_id=made.order(session))
    blank.species_id = session.exec(select(Species.id).where(Species.name == "western redcedar")).one() or 0
    blank.stage = Stage.TUNING
    session.add(blank)
    session.flush()
    made.read_all(session, open_shop.maker, blank, 2.0)
    blank.status, blank.stage, blank.finished_at = BlankStatus.FINISHED, Stage.FINISHING, now()
    session.add(blank)
    session.flush()
    return blank


def switch(session: Session, shop: OpenShop, on: bool = True) -> FlutePages:
    said = flute_pages.settings(session)
    asked = FlutePagesAsked(is_open=on, warranty="Two years.", finish_care="Wax it.", version=said.version)
    return flute_pages.change(session, shop.owner, asked)


def test_it_is_off_until_the_owner_switches_it_on_and_ends_when_switched_off(
    session: Session, open_shop: OpenShop, flute: Blank
) -> None:
    assert address.path_of(session, flute) is None
    with pytest.raises(NotAllowed):
        flute_pages.change(session, open_shop.office, FlutePagesAsked(is_open=True, version=0))
    switch(session, open_shop)
    path = address.path_of(session, flute)
    assert path is not None and path == address.path_of(session, flute), "the code is printed again unchanged"
    assert address.blank_at(session, path.removeprefix("/flute/")) is flute
    with pytest.raises(Stale):
        flute_pages.change(session, open_shop.owner, FlutePagesAsked(version=0))
    switch(session, open_shop, on=False)
    with pytest.raises(NotFound):
        address.blank_at(session, path.removeprefix("/flute/"))
    switch(session, open_shop)
    assert address.path_of(session, flute) == path


def test_no_other_address_works_and_every_refusal_reads_the_same(
    session: Session, open_shop: OpenShop, flute: Blank
) -> None:
    switch(session, open_shop)
    [in_work] = made.opened(session, open_shop.maker)
    path = address.path_of(session, flute)
    assert path is not None and address.path_of(session, in_work) is None
    secret = path.removeprefix("/flute/")
    number, mark = secret.split("-", 1)
    assert len(mark) == 32
    other = mark[:-1] + ("A" if mark[-1] != "A" else "B")
    wrong = [f"{in_work.id}-{mark}", f"{number}-{other}", f"0{number}-{mark}", number, "", f"{number}-", f"9-{mark}x"]
    said = set()
    for one in [*wrong, "x" * 4000, "é-é", f"{number}-{mark}é", f"{2**40}-{mark}"]:
        with pytest.raises(NotFound) as caught:
            address.blank_at(session, one)
        said.add(str(caught.value))
    assert len(said) == 1


def test_it_says_what_the_flute_is_and_nothing_of_a_person(session: Session, open_shop: OpenShop, flute: Blank) -> None:
    switch(session, open_shop)
    page = page_of(session, flute)
    assert (page.key, page.wood, page.warranty, page.finish_care) == ("A4", "western redcedar", "Two years.", "Wax it.")
    assert all(note.cents is not None and abs(note.cents - 2.0) < 0.1 for note in page.notes)
    assert any("plicatic acid" in said for said in page.cautions)
    order = session.get_one(Order, session.get_one(OrderedFlute, flute.ordered_flute_id).order_id)
    assert order.number == 1 and "Lindqvist" not in repr(page)


def test_while_it_is_here_for_a_repair_it_shows_how_it_left(
    session: Session, open_shop: OpenShop, flute: Blank
) -> None:
    switch(session, open_shop)
    before = page_of(session, flute).notes
    order_id = session.get_one(OrderedFlute, flute.ordered_flute_id).order_id
    later = now() + timedelta(days=400)
    repair = Repair(order_id=order_id, kind=RepairKind.RETUNING, blank_id=flute.id, asked="flat", begun_at=later)
    flute.status, flute.stage = BlankStatus.IN_WORK, Stage.TUNING
    session.add_all([repair, flute])
    session.flush()
    with at(later + timedelta(hours=1)):
        made.read_all(session, open_shop.maker, flute, -20.0)
    assert under_way(session, flute.id) is repair
    assert address.path_of(session, flute) is not None
    assert page_of(session, flute).notes == before


def test_a_label_needs_a_page_for_its_code_to_lead_to(session: Session, open_shop: OpenShop, flute: Blank) -> None:
    from webapp.paper.office.flute_label import flute_label

    with pytest.raises(Refused, match="not switched such pages on"):
        flute_label(session, flute, "https://shop.invalid")
    switch(session, open_shop)
    label = flute_label(session, flute, "https://shop.invalid/")
    assert label.address == f"https://shop.invalid{address.path_of(session, flute)}"
    assert label.lines == ("A4, western redcedar", "Alder Lane Flutes")
