"""What pages decide, they decide by what a thing is: other words for it, or the same words typed, change nothing."""

import io
import re
from dataclasses import replace
from typing import Any

import pytest
from fastapi.testclient import TestClient

from acoustics.errors import InvalidInput
from tests.pages.orders.test_orders import TAKE
from tests.shop.production.test_repairs import wanted
from tests.shops import OpenShop
from webapp.shop.base.errors import Invalid
from webapp.shop.bench import hearing
from webapp.shop.orders import lists as order_list, status_page
from webapp.shop.production import repairs


def _confirm_button(page: str) -> str:
    found = re.search(r"<button[^>]*>[^<]*(?:<svg.*?</svg>)?\s*Confirm\s*</button>", page, re.S)
    assert found is not None, page
    return found[0]


@pytest.mark.parametrize("words", [None, "Send an offer, or take it as it is."])
def test_confirm_stands_out_once_all_is_agreed(
    client: TestClient, open_shop: OpenShop, monkeypatch: pytest.MonkeyPatch, words: str | None
) -> None:
    said = order_list.next_step
    if words:

        def reworded(*about: Any) -> Any:
            step = said(*about)
            return step and replace(step, words=words)

        monkeypatch.setattr(order_list, "next_step", reworded)
    asked = TAKE | {"species_id": open_shop.species(), "status": "enquiry"}
    agreed = client.post("/orders/new", data=asked).text
    assert "button--primary" in _confirm_button(agreed) and (words or "Quote it, or confirm it.") in agreed
    undated = client.post("/orders/new", data=asked | {"due_on": "", "customer_name": "Ida Fell"}).text
    assert "button--primary" not in _confirm_button(undated)


def test_a_repair_that_is_not_begun_is_at_no_stage(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = repairs.take(session, open_shop.office, wanted(whose="other", described="A cedar flute, maker unknown"))
        secret = status_page.open_page(session, open_shop.office, order.number, order.version)
    page = client.get(f"/status/{secret}").text
    assert "Retuning: not begun" in page and "is-here" not in page and "is-done" not in page


@pytest.mark.parametrize("limit", ["must be at most 180", "lasts longer than is listened to"])
def test_too_long_a_recording_is_told_whatever_the_engine_calls_it(monkeypatch: pytest.MonkeyPatch, limit: str) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise InvalidInput("seconds", 200.5, limit)

    monkeypatch.setattr(hearing, "listen", refuse)
    with pytest.raises(Invalid) as refused:
        hearing.from_recording(io.BytesIO(), 1000)
    assert refused.value.errors == {"recording": "It must be at most 180 seconds long."}
