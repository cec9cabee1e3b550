"""A blank heard as it is now: from its gauges and cuts, and what is said where its holes are not known."""

import math
import re

from fastapi.testclient import TestClient
from sqlmodel import select

from tests.pages.bench.test_bench import HERE, bring
from tests.shops import OpenShop
from webapp.models import Blank, PatternRevision
from webapp.shop.bench import cuts

PLAYED = f"{HERE}/played"


def test_it_is_heard_as_it_is(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "tuned")
    assert f'href="{PLAYED}"' in client.get(HERE).text
    page = client.get(f"{PLAYED}?pressure=500")
    assert page.status_code == 200 and "sketch of pitch and speech" in page.text

    def lowest(text: str) -> float:
        found = re.search(r'data-label="Sounds"\s+class="number">([\d.]+) Hz', text)
        assert found
        return float(found[1])

    before = lowest(page.text)
    answer = client.get(f"{PLAYED}/listen.wav?pressure=500")
    assert answer.content[:4] == b"RIFF" and "0001-500-Pa.wav" in answer.headers["content-disposition"]
    # A shorter foot sounds higher.
    with open_shop.database.read() as session:
        foot = cuts.at_first(session, session.exec(select(Blank)).one())[0]
    assert foot is not None
    assert client.post(f"{HERE}/cuts", data={"control": "0", "size": f"{foot - 6:.1f} mm"}).status_code == 200
    after = lowest(client.get(f"{PLAYED}?pressure=500").text)
    assert 20 < 1200 * math.log2(after / before) < 50
    assert client.get(f"{PLAYED}?pressure=soft").status_code == 422
    assert client.get("/bench/9999/played").status_code == 404


def test_without_a_flue_it_says_what_is_missing(client: TestClient, open_shop: OpenShop) -> None:
    bring(open_shop, "tuned")
    with open_shop.database.write() as session:
        for revision in session.exec(select(PatternRevision)):
            revision.instrument = {k: v for k, v in revision.instrument.items() if k not in ("flue", "chamber")}
            session.add(revision)
        session.commit()
    for address in (PLAYED, f"{PLAYED}/listen.wav"):
        page = client.get(address)
        assert page.status_code == 200 and "flue&#39;s sizes are needed" in page.text
