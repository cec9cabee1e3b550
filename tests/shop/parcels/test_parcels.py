"""An order's parcel: where it goes, a gift, what left when; weights as people write them; what a border may ask."""

from collections.abc import Iterator
from datetime import date, timedelta
from math import pi
from typing import Any

import pytest
from pydantic import ValidationError
from sqlmodel import Session, select

from acoustics.flute.instrument import Body, Instrument, Window
from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Blank, BlankStatus, Order, OrderStatus, Parcel, Species, Stage, Units
from webapp.paper.office.letters import packing_slip
from webapp.shop.base.errors import Invalid, NotAllowed, NotFound, Refused, Stale
from webapp.shop.orders import rules as orders
from webapp.shop.parcels import border, rules as parcels
from webapp.shop.parcels.rules import ParcelAsked
from webapp.shop.people import diary
from webapp.shop.settings.beginnings import WOODS
from webapp.shop.units.weights import parse_weight, show_weight
from webapp.shop.wood.botanical import scientific_name


@pytest.fixture
def session(open_shop: OpenShop) -> Iterator[Session]:
    with open_shop.database.write() as session:
        yield session


@pytest.fixture
def order(session: Session, open_shop: OpenShop) -> Order:
    """A confirmed order with one finished flute of western redcedar."""
    [blank] = made.opened(session, open_shop.maker, flute_id=made.order(session))
    blank.species_id = session.exec(select(Species.id).where(Species.name == "western redcedar")).one() or 0
    blank.status, blank.stage = BlankStatus.FINISHED, Stage.FINISHING
    session.add(blank)
    order = session.exec(select(Order)).one()
    order.taken_on = date.today() - timedelta(days=30)
    order.status = OrderStatus.READY
    session.add(order)
    session.flush()
    return order


def change(session: Session, shop: OpenShop, **asked: Any) -> Parcel:
    order = session.exec(select(Order)).one()
    version = parcels.of_order(session, order).version
    return parcels.change(session, shop.office, order.number, ParcelAsked.model_validate({"version": version} | asked))


def wrong(session: Session, shop: OpenShop, **asked: Any) -> set[str]:
    with pytest.raises(Invalid) as caught:
        change(session, shop, **asked)
    return set(caught.value.errors)


def test_a_gift_sent_to_nowhere_is_refused_at_its_fields(session: Session, open_shop: OpenShop, order: Order) -> None:
    assert wrong(session, open_shop, is_gift=True) == {"name", "address"}
    assert wrong(session, open_shop, is_gift=True, name="Lio Hart") == {"address"}
    assert wrong(session, open_shop, name="Lio Hart") == {"address"}
    assert wrong(session, open_shop, gift_words="For you") == {"is_gift"}
    assert wrong(session, open_shop, tracking="ZX 1") == {"carrier"}
    assert wrong(session, open_shop, sent_on=date.today() + timedelta(days=1)) == {"sent_on"}
    assert wrong(session, open_shop, sent_on=date.today() - timedelta(days=40)) == {"sent_on"}
    with pytest.raises(ValidationError):
        ParcelAsked(country="XX", version=0)
    order.status = OrderStatus.IN_THE_SHOP
    assert wrong(session, open_shop, sent_on=date.today()) == {"sent_on"}
    order.status = OrderStatus.WITHDRAWN
    with pytest.raises(Refused, match="withdrawn"):
        change(session, open_shop, name="Lio Hart", address="1 Quay")


def test_a_gifts_slip_names_whoever_it_goes_to_and_nobody_else(
    session: Session, open_shop: OpenShop, order: Order
) -> None:
    assert packing_slip(session, order).customer == "Rosa Lindqvist"
    given = {"name": "Lio Hart", "address": "1 Quay\nFar Harbour", "country": "NZ", "is_gift": True}
    change(session, open_shop, **given, gift_words="For you.", carrier="post", tracking="ZX 1", weight="1 lb 2 oz")
    slip = packing_slip(session, order)
    assert (slip.customer, slip.address, slip.contact) == ("Lio Hart", "1 Quay\nFar Harbour\nNew Zealand", "")
    assert (slip.gift_words, slip.carried) == ("For you.", "post ZX 1")
    assert "Lindqvist" not in repr(slip) and "300" not in repr(slip)
    told = [line.what for line in diary.read(session, open_shop.maker, "order", order.id)]
    assert "Parcel, weight: was nothing, is now 510 g" in told
    with pytest.raises(Stale) as caught:
        parcels.change(session, open_shop.office, order.number, ParcelAsked(version=0))
    assert caught.value.theirs["name"] == "Lio Hart"
    with pytest.raises(NotAllowed):
        parcels.change(session, open_shop.viewer, order.number, ParcelAsked(version=1))
    # It can still be said once the order has left.
    orders.hand_over(session, open_shop.office, order.number, order.version, unpaid=True)
    assert change(session, open_shop, **given, sent_on=date.today()).sent_on == date.today()


def test_the_sheet_for_a_border_names_species_source_weight_and_what_to_check(
    session: Session, open_shop: OpenShop, order: Order
) -> None:
    [piece] = border.pieces_of(session, order)
    assert (piece.wood, piece.scientific) == ("western redcedar", "Thuja plicata")
    # By hand: 28.65 over 19.05 mm, some 520 mm long, of redcedar (0.32, at 12 percent) is 67 g, the plug a gram or two.
    assert piece.weight is not None and 66 <= piece.weight <= 72
    assert any("CITES" in said for said in border.TO_CHECK)
    blank = session.exec(select(Blank)).one()
    blank.species_id = session.exec(select(Species.id).where(Species.name == "African blackwood")).one() or 0
    [piece] = border.pieces_of(session, order)
    assert (piece.restricted, piece.papers_missing, piece.weight) == (True, True, None)
    blank.status = BlankStatus.IN_WORK
    with pytest.raises(NotFound, match="nothing to declare"):
        border.pieces_of(session, order)


def test_a_tube_weighs_its_wood() -> None:
    """By hand: a tube 300 mm long, 20 mm inside, 30 mm outside, of gravity 0.5 (ovendry mass, volume at 12 percent)."""
    tube = Instrument(bore=((0.0, 20.0), (300.0, 20.0)), body=Body("round", 5.0), window=Window(5.0, 11.0, 5.0, 30.0))
    by_hand = pi / 4 * (3.0**2 - 2.0**2) * 30.0 * 0.5 * 1.12
    assert border.weight_of(tube, 0.5) == round(by_hand) == 66


def test_every_wood_a_shop_begins_with_has_its_scientific_name_unless_it_is_a_genus() -> None:
    assert [name for name, *_ in WOODS if not scientific_name(name)] == ["rosewood (Dalbergia)"]


@pytest.mark.parametrize(
    ("typed", "grams"),
    [("450", 450), ("0.45 kg", 450), ("0,45kg", 450), ("1 lb", 454), ("1 lb 2 oz", 510), ("16 oz", 454), ("2lbs", 907)],
)
def test_weights_are_read_as_they_are_written(typed: str, grams: int) -> None:
    """A pound is 453.59237 g exactly, an ounce a sixteenth of it (international agreement of 1959)."""
    assert parse_weight(typed) == grams


@pytest.mark.parametrize("typed", ["", "heavy", "1 kg 2 oz", "1 lb 2 kg", "-3 g", "1" * 40, "1e3 g"])
def test_what_is_no_weight_is_refused(typed: str) -> None:
    with pytest.raises(ValueError, match="Write a weight"):
        parse_weight(typed)


def test_weights_read_well_in_either_units() -> None:
    assert [show_weight(510, Units.MM), show_weight(1234, Units.MM)] == ["510 g", "1.23 kg"]
    assert [show_weight(240, Units.INCH), show_weight(454, Units.INCH), show_weight(510, Units.INCH)] == [
        "8.5 oz",
        "1 lb",
        "1 lb 2 oz",
    ]
