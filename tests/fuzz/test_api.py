"""The API under calls made from its own description by schemathesis (OpenAPI 3.1): no fault of ours, no answer that
the description does not name. tests/load/fuzz_api.py does the same for longer."""

import pytest
from fastapi import FastAPI

from tests.fuzz.programs import fuzz, key_in
from tests.shops import OpenShop
from webapp.api.application import WAYS


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_every_way_answers_as_it_is_described(open_shop: OpenShop, app: FastAPI) -> None:
    assert fuzz(app, key_in(open_shop), examples=2) > 1.5 * len(WAYS)
