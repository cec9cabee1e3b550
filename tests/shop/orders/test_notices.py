"""What touches a quote or a confirmation stands on the order until it is dealt with; what is changed back goes."""

from decimal import Decimal
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session

from tests import blanks as made
from tests.api.programs import Program, key_of
from tests.pages.orders.reading import flat
from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop, signed_in
from webapp.models import Order, OrderStatus, Pattern, PatternRevision, Units
from webapp.shop.base.errors import NotAllowed, Refused
from webapp.shop.orders import flutes as ordered_flutes, lists as order_list, rules as orders
from webapp.shop.orders.flutes import as_typed
from webapp.shop.orders.forms import ChangeFlute, ChangeOrder, FurtherFlutes, SeenNotice
from webapp.shop.orders.terms import notices
from webapp.shop.people.tokens import Scope


def change(session: Session, shop: OpenShop, order: Order, **more: Any) -> None:
    flute = orders.flutes_of(session, order)[0]
    typed: dict[str, Any] = as_typed(flute, Units.MM) | {"version": order.version, "why": "as they wish"} | more
    wanted = ChangeFlute.model_validate({name: value for name, value in typed.items() if value != ""})
    ordered_flutes.change_flute(session, shop.office, order.number, flute.id or 0, wanted)


def stands(session: Session, order: Order) -> list[tuple[str, str, str]]:
    return [(one.what, one.before, one.after) for one in notices.of_order(session, order).all]


def next_words(session: Session, order: Order) -> str:
    rows = order_list.flute_rows(session, order)
    step = order_list.next_step(order, rows, quote_again=bool(notices.of_order(session, order).terms))
    return step.words if step else ""


def test_a_quote_whose_terms_changed_is_quoted_again_not_confirmed(open_shop: OpenShop) -> None:
    shop = open_shop
    with shop.database.write() as session:
        order = orders.take_order(session, shop.office, asked(shop, status=OrderStatus.QUOTED, due_on=None))
        assert stands(session, order) == []
        # A date where the quote named none touches nothing that was told.
        due = asked(shop).due_on
        orders.change_order(session, shop.office, 1, ChangeOrder(version=order.version, due_on=due))
        assert stands(session, order) == []
        change(session, shop, order, key="F#4", species_id=shop.species("sugar maple"))
        assert stands(session, order) == [
            ("Flute 1", "Flute in A4, minor pentatonic", "Flute in F\N{MUSIC SHARP SIGN}4, minor pentatonic"),
            (
                "Flute 1, details",
                "Black walnut; Six finger holes, A4 = 440 Hz",
                "Sugar maple; Six finger holes, A4 = 440 Hz",
            ),
        ]
        assert next_words(session, order) == "Quote it again: it is no longer what was quoted."
        with pytest.raises(Refused, match="no longer what quote 1 says"):
            orders.confirm(session, shop.office, 1, order.version)
        # Changed back, nothing stands.
        change(session, shop, order, key="A4", species_id=shop.species())
        assert stands(session, order) == []
        change(session, shop, order, price="260")
        assert ("Total", "€240.00", "€260.00") in stands(session, order)
        orders.quote(session, shop.office, 1, order.version)
        assert stands(session, order) == []
        orders.confirm(session, shop.office, 1, order.version)


def test_what_was_seen_is_left_until_it_changes_further(open_shop: OpenShop) -> None:
    shop = open_shop
    with shop.database.write() as session:
        order = orders.take_order(session, shop.office, asked(shop))
        posted = ChangeOrder(version=order.version, postage=Decimal("12"), why="to be sent")
        orders.change_order(session, shop.office, 1, posted)
        found = notices.of_order(session, order)
        assert [one.what for one in found.terms] == ["Packing and postage", "Total"]
        assert found.seen_by(shop.maker.role) == (), "who sees no money is told of none"
        see = SeenNotice(version=order.version, mark=found.mark)
        with pytest.raises(NotAllowed):
            orders.seen(session, shop.maker, 1, see)
        with pytest.raises(Refused, match="look again"):
            orders.seen(session, shop.office, 1, see.model_copy(update={"mark": "x"}))
        orders.seen(session, shop.office, 1, see)
        assert stands(session, order) == []
        dearer = posted.model_copy(update={"version": order.version, "postage": Decimal("15")})
        orders.change_order(session, shop.office, 1, dearer)
        assert ("Packing and postage", "€0.00", "€15.00") in stands(session, order)
        orders.confirm_again(session, shop.office, 1, order.version)
        assert stands(session, order) == []
        orders.add_flutes(session, shop.office, 1, further(shop), order.version)
        assert ("Flute 2", "", "Flute in G4, minor pentatonic, €200.00") in stands(session, order)


def further(shop: OpenShop) -> FurtherFlutes:
    return FurtherFlutes(key="G4", species_id=shop.species(), price=Decimal("200"), why="a second one")


def test_a_dropped_pattern_is_said_and_comes_back(open_shop: OpenShop) -> None:
    shop = open_shop
    with shop.database.write() as session:
        order = orders.take_order(session, shop.office, asked(shop, status=OrderStatus.ENQUIRY))
        flute = orders.flutes_of(session, order)[0]
        revision = session.get_one(PatternRevision, made.pattern(session, shop.owner))
        name = session.get_one(Pattern, revision.pattern_id).name
        ordered_flutes.choose_pattern(session, shop.maker, 1, flute.id or 0, revision.id or 0, order.version)
        assert stands(session, order) == []
        change(session, shop, order, key="G4")
        assert flute.revision_id is None
        assert stands(session, order) == [("Flute 1, pattern", f"{name}, revision {revision.number}", "")]
        change(session, shop, order, key="A4")
        assert (flute.revision_id, stands(session, order)) == (revision.id, [])
        change(session, shop, order, key="G4")
        mark = notices.of_order(session, order).mark
        orders.seen(session, shop.maker, 1, SeenNotice(version=order.version, mark=mark))
        assert stands(session, order) == []


def test_another_pattern_than_when_it_was_confirmed_is_said(open_shop: OpenShop) -> None:
    shop = open_shop
    with shop.database.write() as session:
        order = orders.take_order(session, shop.office, asked(shop, status=OrderStatus.ENQUIRY))
        flute = orders.flutes_of(session, order)[0]
        first = made.pattern(session, shop.owner)
        ordered_flutes.choose_pattern(session, shop.maker, 1, flute.id or 0, first, order.version)
        orders.confirm(session, shop.office, 1, order.version)
        known = session.get_one(PatternRevision, first)
        copy = known.model_dump(exclude={"id", "number"}) | {"number": known.number + 1}
        second = PatternRevision(**copy)
        session.add(second)
        session.flush()
        ordered_flutes.choose_pattern(session, shop.maker, 1, flute.id or 0, second.id or 0, order.version)
        name = session.get_one(Pattern, known.pattern_id).name
        before, after = (f"{name}, revision {number}" for number in (known.number, second.number))
        assert stands(session, order) == [("Flute 1, pattern", before, after)]
        assert notices.of_order(session, order).seen_by(shop.maker.role), "a maker sees it too"
        ordered_flutes.choose_pattern(session, shop.maker, 1, flute.id or 0, first, order.version)
        assert stands(session, order) == []


def test_the_page_shows_both_and_offers_both_ways(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop, status=OrderStatus.QUOTED))
        change(session, open_shop, order, price="300")
        session.commit()
    page = flat(client.get("/orders/1").text)
    assert "No longer as quote 1 says." in page and "Seen: leave it as it is" in page
    assert 'action="/orders/1/confirm"' not in page
    row = page.split('<th scope="row">Total</th>')[1].split("</tr>")[0]
    assert "€240.00" in row and "€300.00" in row
    maker = flat(signed_in(client, "tam").get("/orders/1").text)
    assert "No longer as" not in maker
    office = signed_in(client, "bo")
    mark = page.split('name="mark" value="')[1].split('"')[0]
    done = office.post("/orders/1/seen", data={"version": str(order.version), "mark": mark})
    assert done.status_code == 200 and 'action="/orders/1/confirm"' in flat(done.text)
    assert office.post("/orders/1/seen", data={"version": "1", "mark": mark}).status_code == 409


def test_a_program_reads_them_and_says_seen(app: FastAPI, client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop, status=OrderStatus.QUOTED))
        change(session, open_shop, order, price="300")
        session.commit()
    office = Program(app, key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE))
    shown = office.ask("GET", "/orders/1")
    assert shown.json()["notices"][-1] == {"what": "Total", "before": "€240.00", "after": "€300.00"}
    refused = office.ask("POST", "/orders/1/confirm", {}, if_match=shown.headers["etag"])
    assert refused.status_code == 409
    body = {"mark": shown.json()["notices_mark"]}
    assert office.ask("POST", "/orders/1/seen", body, if_match=shown.headers["etag"]).json()["notices"] == []
