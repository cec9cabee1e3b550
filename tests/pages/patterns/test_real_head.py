"""A pattern from before heads could be said gets its real head, its holes unchanged, both predictions side by side."""

import json

import pytest
from fastapi.testclient import TestClient

from acoustics.designing.design import DesignRequest, design
from acoustics.flute.instrument import Instrument
from tests.pages.patterns.test_pattern_files import ABOUT
from tests.pages.patterns.test_patterns import ASKED
from tests.shops import signed_in

BUTTON = "Give this pattern its real head"


@pytest.fixture
def before(client: TestClient) -> str:
    """The address of a pattern as they were before: its window a thinner cylinder, no edge height, block or fingers."""
    asked = {"key": "A4", "block": None, "finger": None, "window": {"edge_height": 0.0}}
    flute = design(DesignRequest.from_json(asked)).instrument.to_json()
    flute["window"]["planed"] = False
    answer = client.post("/patterns/import", data=ABOUT | {"document": json.dumps(flute)})
    assert answer.status_code == 200, answer.text
    return answer.url.path


def test_its_real_head_is_a_new_revision_with_the_same_holes(client: TestClient, before: str) -> None:
    assert BUTTON in client.get(before).text
    answer = client.post(f"{before}/real-head")
    assert answer.url.path.endswith("/compare")
    assert str(answer.url.query, "ascii") == "first=1&second=2"
    assert answer.text.count("drawing--chart") == 2
    old, new = (Instrument.from_json(client.get(f"{before[:-1]}{number}/flute.json").json()) for number in (1, 2))
    assert (new.holes, new.bore) == (old.holes, old.bore)
    assert not old.window.planed
    assert new.window.planed
    assert new.flue is not None and new.block is not None and new.finger is not None
    assert new.window.edge_height == round(new.window_wall - new.flue.depth, 1)
    assert BUTTON not in client.get(f"{before[:-1]}2").text
    assert client.post(f"{before[:-1]}2/real-head").status_code == 409


def test_a_new_design_has_it_already(client: TestClient) -> None:
    made = client.post("/patterns/design", data=ASKED | {"name": "new"}).url.path
    assert BUTTON not in client.get(made).text


def test_who_only_looks_cannot(client: TestClient, before: str) -> None:
    signed_in(client, "kit")
    assert BUTTON not in client.get(before).text
    assert client.post(f"{before}/real-head").status_code == 403
