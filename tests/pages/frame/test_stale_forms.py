"""A form filled from what someone else has changed since is refused, and both versions are shown."""

import re

import pytest
from fastapi.testclient import TestClient

from tests.shops import OpenShop

FIELD = re.compile(r'<input[^>]*name="([^"]+)"[^>]*value="([^"]*)"')


def filled(client: TestClient, address: str) -> dict[str, str]:
    """The text fields of the form as a browser would send them back, and its mark."""
    page = client.get(address)
    assert page.status_code == 200
    form = page.text.split("<main")[1]
    return {name: value for name, value in FIELD.findall(form) if name not in ("once", "q")}


@pytest.mark.parametrize(
    ("address", "field"),
    [("/stock/woods/{wood}", "name"), ("/shop/adhesives/1", "name"), ("/shop/people/2", "name")],
)
def test_a_stale_form_is_refused_with_both_versions(
    client: TestClient, open_shop: OpenShop, address: str, field: str
) -> None:
    here = address.format(wood=open_shop.species())
    mine = filled(client, here)
    extra = {"role": "maker", "active": "on"} if "people" in here else {}
    theirs = client.post(here, data={**mine, **extra, field: "Changed by another"}, follow_redirects=False)
    assert theirs.status_code == 303, theirs.text
    answer = client.post(here, data={**mine, **extra, field: "Changed by me"}, follow_redirects=False)
    assert answer.status_code == 409
    assert "Someone else changed this" in answer.text
    assert "Changed by another" in answer.text and "Changed by me" in answer.text
    again = FIELD.findall(answer.text.split("<main")[1])
    seen = dict(again)["seen"]
    final = client.post(here, data={**mine, **extra, field: "Changed by me", "seen": seen}, follow_redirects=False)
    assert final.status_code == 303


def test_a_lots_label_is_guarded_too(client: TestClient, open_shop: OpenShop) -> None:
    lot = {"kind": "glue", "name": "glue of May", "unit": "ml", "quantity": "500"}
    made = client.post("/stock/new", data=lot, follow_redirects=False)
    assert made.status_code == 303
    label = made.headers["location"].split("?")[0].rstrip("/") + "/label"
    mine = filled(client, label)
    for name, status in [("glue of June", 303), ("glue of July", 409)]:
        answer = client.post(label, data={**mine, "name": name}, follow_redirects=False)
        assert answer.status_code == status
    assert "glue of June" in answer.text and "glue of July" in answer.text
