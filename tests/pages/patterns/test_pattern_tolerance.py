"""Tolerance and start sizes on their pages; the run is handed to a process of its own and polled."""

import re
import time

import pytest
from fastapi.testclient import TestClient

from tests.pages.orders.test_orders import wrong
from tests.pages.patterns.test_patterns import ASKED
from tests.shops import signed_in
from webapp.jobs import claims

HAND = {"bore": "0.05 mm", "wall": "0.2 mm", "hole_diameter": "0.1 mm", "edge_angle": "3", "temperature": "1.5"}


@pytest.fixture
def there(client: TestClient) -> str:
    answer = client.post("/patterns/design", data=ASKED | {"name": "A4 to test with"})
    return f"{answer.url.path}/tolerance"


def test_the_page_shows_the_rates_as_picture_and_table(client: TestClient, there: str) -> None:
    page = client.get(there).text
    assert "drawing--effects" in page
    table = page.split("Cents for one step more")[1].split("</table>")[0]
    assert "Diameter of hole 6" in table
    assert "Air, 1 °C" in table
    shares = [int(n) for n in re.findall(r'class="number">(\d+) %', page.split("What needs most care")[1])]
    assert shares == sorted(shares, reverse=True)
    assert 97 <= sum(shares) <= 103
    assert "Not calculated yet" in page
    start = client.get(there.removesuffix("/tolerance")).text.split('id="start"')[1]
    assert "Hole 6" in start
    assert "fewer than 1 flute in 100" in start


def test_ten_thousand_flutes_are_calculated_in_the_background(client: TestClient, there: str) -> None:
    page = client.post(there, data=HAND)
    assert page.status_code == 200
    assert "<progress" in page.text or "in 100 would have" in page.text
    assert client.post(there, data=HAND).status_code in (200, 409)
    part = ""
    for _ in range(9000):  # as long as a busy machine takes
        part = client.get(there, headers={"HX-Request": "true"}).text
        assert "<html" not in part
        if "hx-trigger" not in part:
            break
        assert "of 10,000 flutes calculated" in part
        time.sleep(0.1)
    assert "in 100 would have every note in tune" in part
    assert "drawing--spread" in part
    assert "hx-get" not in part, "it asks no more once it is done"
    assert "drawing--spread" in client.get(there).text, "a reload shows the same"


def test_a_run_whose_process_ended_says_so(client: TestClient, there: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(client.app.state.queue, "enqueue", lambda job, run_id: None)  # type: ignore[attr-defined]
    assert "<progress" in client.post(there, data=HAND).text
    refused = client.post(there, data=HAND)
    assert refused.status_code == 409
    assert "already" in refused.text
    monkeypatch.setattr(claims, "QUIET", claims.QUIET * 0)
    page = client.get(there).text
    assert "did not finish" in page
    assert "<progress" not in page


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("bore", "thin", "Write a length"),
        ("bore", "-1 mm", "between 0 mm and 3 mm"),
        ("hole_diameter", "9 mm", "between 0 mm and 3 mm"),
        ("edge_angle", "nan", "Write a number"),
        ("temperature", "99", "Must be 10"),
    ],
)
def test_what_is_wrong_stands_at_its_field(client: TestClient, there: str, field: str, typed: str, says: str) -> None:
    answer = client.post(there, data=HAND | {field: typed})
    assert answer.status_code == 422
    assert says in wrong(answer.text, field)
    assert typed in answer.text


def test_someone_who_may_only_look_sees_the_same_without_the_form(client: TestClient, there: str) -> None:
    signed_in(client, "kit")
    page = client.get(there)
    assert "drawing--effects" in page.text
    assert 'id="hand"' not in page.text
    assert client.post(there, data=HAND).status_code == 403
    for nowhere in ("/patterns/9/1/tolerance", "/patterns/1/9/tolerance", "/patterns/x/1/tolerance"):
        assert client.get(nowhere).status_code == 404
