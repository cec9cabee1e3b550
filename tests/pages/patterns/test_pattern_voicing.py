"""The voicing chart on its page, and how flutes came out on the pattern's."""

import re

import pytest
from fastapi.testclient import TestClient

from tests import blanks as made
from tests.pages.patterns.test_patterns import ASKED
from tests.shops import OpenShop, signed_in
from webapp.models import PatternRevision


def test_the_chart_says_where_each_note_speaks_and_that_it_is_a_guide(client: TestClient) -> None:
    client.post("/patterns/design", data=ASKED | {"name": "A4 to test with"})
    signed_in(client, "kit")
    assert "/patterns/1/1/voicing" in client.get("/patterns/1/1").text
    page = client.get("/patterns/1/1/voicing").text
    assert "drawing--voicing" in page and "521 Pa" in page
    assert "A guide only" in page
    rows = re.findall(r'data-label="(Speaks from|Overblows at)"\s+class="number">(\d+) Pa', page)
    starts = [int(n) for what, n in rows if what == "Speaks from"]
    over = [int(n) for what, n in rows if what == "Overblows at"]
    assert len(starts) == 7
    assert starts == sorted(starts), "higher notes want more breath"
    assert over == sorted(over)
    # Measured on a blown duct flute: 2.3 to 9.6 to 1 (data/duct_flute_breath.json).
    assert all(2.3 < high / low < 9.6 for low, high in zip(starts, over, strict=False))
    for nowhere in ("/patterns/9/1/voicing", "/patterns/1/9/voicing"):
        assert client.get(nowhere).status_code == 404


def test_a_flute_without_a_flue_has_no_chart_and_says_why(open_shop: OpenShop, client: TestClient) -> None:
    with open_shop.database.write() as session:
        revision = session.get(PatternRevision, made.pattern(session, open_shop.maker))
        assert revision is not None
        revision.instrument = {k: v for k, v in revision.instrument.items() if k not in ("flue", "chamber")}
        session.add(revision)
        session.commit()
    page = client.get("/patterns/1/1/voicing")
    assert page.status_code == 200
    assert "no voicing chart" in page.text
    for other in ("", "/tolerance", "/layout.dxf", "/layout.svg", "/dimensions.csv", "/flute.json"):
        assert client.get(f"/patterns/1/1{other}").status_code == 200


@pytest.mark.parametrize("page", ["/patterns/1", "/patterns/1/1"])
def test_finished_flutes_show_on_the_pattern(open_shop: OpenShop, client: TestClient, page: str) -> None:
    with open_shop.database.write() as session:
        (blank,) = made.opened(session, open_shop.maker)
    assert "How the flute came out" not in client.get(page).text
    with open_shop.database.write() as session:
        made.bring_to(session, open_shop.maker, blank, "no such step: to the end")
    shown = client.get(page).text
    assert "How the flute came out" in shown
    assert "drawing--spread" in shown
