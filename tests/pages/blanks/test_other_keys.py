"""What a blank can still become, from its gauges and readings, and what each key needs."""

import re

import pytest
from fastapi.testclient import TestClient

from acoustics.model.resonance import Mode, predict
from acoustics.notes.music import cents
from tests import blanks as made
from tests.pages.orders.test_orders import wrong
from tests.shops import OpenShop, signed_in
from webapp.models import Blank, Shop
from webapp.shop.advice import other_keys
from webapp.shop.advice.other_keys import OtherKeysAsked
from webapp.shop.bench import cuts
from webapp.shop.bench.cuts import RecordCut
from webapp.shop.settings import air


def at_step(shop: OpenShop, code: str) -> Blank:
    with shop.database.write() as session:
        (blank,) = made.opened(session, shop.maker)
        made.bring_to(session, shop.maker, blank, code)
        return blank


def test_a_blank_without_holes_can_become_several_keys_and_each_says_what_it_needs(
    open_shop: OpenShop, client: TestClient
) -> None:
    blank = at_step(open_shop, "holes-marked")
    signed_in(client, "kit")
    assert f"/blanks/{blank.serial}/other-keys" in client.get(f"/blanks/{blank.serial}").text
    page = client.get(f"/blanks/{blank.serial}/other-keys")
    assert page.status_code == 200
    keys = re.findall(r"<h2>(\S+) minor pentatonic", page.text)
    assert len(keys) >= 2
    for key, part in zip(keys, page.text.split("can be had")[1:], strict=False):
        needs = part.split("</ul>")[0]
        assert len(re.findall(r"Drill hole \d at", needs)) == 6, key
    feet = [float(mm) for mm in re.findall(r"off the foot, to ([\d.]+) mm", page.text)]
    assert feet == sorted(feet, reverse=True), "a higher key has a shorter foot"
    assert all(mm < made.FLUTE.foot_x + 20 for mm in feet), "the foot was left long to begin with"
    assert client.get("/blanks/nothing/other-keys").status_code == 404


def test_what_comes_out_is_in_tune_by_the_engine_itself(open_shop: OpenShop) -> None:
    """Each key that can be had, predicted again with the offset that the blank's reading showed."""
    blank = at_step(open_shop, "holes-marked")
    with open_shop.database.read() as session:
        now = other_keys.as_it_is(session, blank)
        shop = session.get(Shop, 1)
        assert shop is not None
        medium = air.played(shop)
        asked = OtherKeysAsked()
        found = other_keys.keys(session, blank, now, asked, open_shop.maker.units)
    assert now.fundamental is not None
    assert now.off is not None
    # The note was read at voicing: the foot as it was left, no holes yet.
    flute = now.flute.with_holes([])
    (closed,) = predict(flute, medium, [""], modes=1)
    assert isinstance(closed.modes[0], Mode)
    assert now.off == pytest.approx(cents(now.fundamental, closed.modes[0].frequency), abs=0.05)
    sharper = 2 ** (now.off / 1200)
    possible = [key for key in found if key.becoming.possible]
    assert possible
    for key in possible:
        design = key.becoming.design
        assert design.instrument.foot_x <= flute.foot_x
        for note in predict(design.instrument, medium, [n.fingering for n in design.notes], modes=1):
            target = next(n.target for n in design.notes if n.fingering == note.fingering)
            assert isinstance(note.modes[0], Mode)
            # 5 cents, the shop's tolerance: ratio 2 ** (5 / 1200).
            assert note.modes[0].frequency * sharper / target == pytest.approx(1.0, abs=0.0029)


def test_gauges_and_cuts_count_and_holes_as_they_are_now_may_be_typed(open_shop: OpenShop, client: TestClient) -> None:
    """A blank with its lower three holes drilled, then all of them, then one cut further: what is known is taken."""
    blank = at_step(open_shop, "hole-3")
    there = f"/blanks/{blank.serial}/other-keys"
    signed_in(client, "kit")
    page = client.get(there).text
    assert "bore, wall at the window, window length, window width, edge height, flue depth, flue width" in page
    assert "foot, finger holes 4, 5, 6" in page
    assert re.search(r'name="hole_3"[^>]*value=""', page)
    gauge = re.search(r'name="hole_6"[^>]*value="([\d.]+) mm"', page)
    assert gauge is not None
    assert float(gauge[1]) < made.FLUTE.holes[5].diameter
    assert not re.search(r"Drill hole 6 at", page)
    with open_shop.database.write() as session:
        one = session.get(Blank, blank.id)
        assert one is not None
        made.bring_to(session, open_shop.maker, one, "tuned")
    with open_shop.database.write() as session:
        cuts.record(
            session, open_shop.maker, blank.id or 0, RecordCut(control=6, size=made.FLUTE.holes[5].diameter + 1.5)
        )
        cuts.record(session, open_shop.maker, blank.id or 0, RecordCut(control=0, size=made.FLUTE.foot_x - 1))
    page = client.get(there).text
    assert "foot, finger holes 1, 2, 3, 4, 5, 6" in page
    assert f'value="{made.FLUTE.holes[5].diameter + 1.5:.1f} mm"' in page
    assert f'value="{made.FLUTE.foot_x - 1:.1f} mm"' in page
    assert "Drill hole" not in page
    wider = {f"hole_{n}": f"{hole.diameter + 1:.1f} mm" for n, hole in enumerate(made.FLUTE.holes, 1)}
    typed = client.get(there, params=wider | {"foot": "330 mm"}).text
    assert f'value="{made.FLUTE.holes[0].diameter + 1:.1f} mm"' in typed
    assert "Open hole 1 from 7" not in typed
    far = client.get(there, params=dict.fromkeys(wider, "14 mm"))
    assert far.status_code == 200
    assert re.search(r"Diameter of hole 1 is already 14 mm, more than the [\d.]+ mm allowed", far.text)
    collide = client.get(there, params=wider | {"hole_1": "20 mm", "hole_2": "20 mm"})
    assert collide.status_code == 422


def test_a_tuned_flute_without_cuts_is_taken_with_the_patterns_finished_sizes(open_shop: OpenShop) -> None:
    blank = at_step(open_shop, "edges")
    with open_shop.database.read() as session:
        now = other_keys.as_it_is(session, blank)
    assert now.sizes == tuple(hole.diameter for hole in made.FLUTE.holes)
    assert now.flute.foot_x == made.FLUTE.foot_x


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("foot", "long", "Write a length"),
        ("foot", "2 mm", "between 60 mm and 1500 mm"),
        ("foot", "200 mm", "before the last hole"),
        ("scale", "blues", "Choose one of the list"),
        ("hole_2", "40 mm", "between 1 mm and 20 mm"),
        ("hole_2", "x", "Write a length"),
    ],
)
def test_what_is_wrong_stands_at_its_field(
    open_shop: OpenShop, client: TestClient, field: str, typed: str, says: str
) -> None:
    blank = at_step(open_shop, "tuned")
    answer = client.get(f"/blanks/{blank.serial}/other-keys", params={field: typed})
    assert answer.status_code == 422
    assert says in wrong(answer.text, field)
