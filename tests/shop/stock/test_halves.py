"""How large a half must be: a flute whose parts are added up by hand."""

import pytest

from acoustics.flute.instrument import Body, Chamber, Flue, Instrument, Window
from tests.shops import OpenShop
from webapp.models import StockKind, Units
from webapp.shop.base.errors import Invalid
from webapp.shop.stock import halves, rules as stock
from webapp.shop.stock.forms import NewLot

# From the mouth end: 12 solid, 150 chamber, 22 flue over the plug, 5.5 window, 300 to the foot: 489.5 mm.
FLUTE = Instrument(
    bore=((-8.5, 16.0), (300.0, 16.0)),
    body=Body("round", 5.0),
    window=Window(5.5, 9.5),
    flue=Flue(0.8, 8.0, 22.0),
    chamber=Chamber(150.0, 18.0),
)


def test_a_half_is_the_flute_and_what_is_worked_away() -> None:
    least = halves.needed(FLUTE)
    assert least.length == pytest.approx(489.5 + halves.ENDS)
    assert least.width == pytest.approx(18.0 + 2 * 5.0 + halves.SIDES), "the chamber is wider than the bore"
    assert least.thickness == pytest.approx(14.0 + halves.FACES)


def test_lots_that_suit_come_first_and_the_others_say_why_not(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:

        def lot(name: str, length: float | None, quantity: float = 4, **more: float) -> int:
            asked = NewLot(
                kind=StockKind.HALVES,
                name=name,
                species_id=open_shop.species(),
                length=length,
                quantity=quantity,
                width=more.get("width"),
                thickness=more.get("thickness"),
            )
            item = stock.add_lot(session, open_shop.maker, asked)
            assert item.id is not None
            return item.id

        lot("a short", 500.0)
        lot("b thin", 600.0, thickness=12.0)
        lot("c unmeasured", None)
        lot("d good", 520.0, width=40.0, thickness=20.0)
        lot("e one left", 600.0, quantity=1)
        found = halves.candidates(session, FLUTE, open_shop.species(), Units.MM)
        assert [one.lot.item.name for one in found] == ["d good", "b thin", "c unmeasured", "a short", "e one left"]
        assert [bool(one.wrong) for one in found] == [False, False, False, True, True]
        assert found[1].remarks == ("too thin: 12 mm thick, needs 15.5 mm",)
        assert "needs 514.5 mm" in found[2].remarks[0]
        halves.must_suit(FLUTE, found[0].lot.item, Units.MM)
        with pytest.raises(Invalid, match="too short: 500 mm long"):
            halves.must_suit(FLUTE, found[3].lot.item, Units.MM)


def test_a_least_size_is_rounded_up_never_down() -> None:
    assert halves.rounded_up(514.5, Units.MM) == "515 mm"
    assert halves.rounded_up(25.4, Units.INCH) == '1"'
    assert halves.rounded_up(25.5, Units.INCH) == '1 1/16"'
